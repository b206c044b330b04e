package shell

import (
	"fmt"
	"strconv"

	qr "github.com/piglig/go-qr"
)

// quietZone is the empty border that readers need, in modules (ISO/IEC 18004).
const quietZone = 4

// Square is a square code as one line of an SVG that is a module wide, a module
// being one unit.
type Square struct {
	Size int // with the quiet zone
	Path string
}

// Box is the SVG's viewBox.
func (s Square) Box() string { return fmt.Sprintf("0 0 %d %d", s.Size, s.Size) }

// NewSquare makes the code of a text. Level M mends codes that were photographed
// from a scratched screen or a folded page.
func NewSquare(text string) (Square, error) {
	code, err := qr.EncodeText(text, qr.Medium)
	if err != nil {
		return Square{}, fmt.Errorf("square code: %w", err)
	}
	n := code.Size()
	// Strokes along the rows, each begun where the one before ended: half as long as
	// their outlines, in what packs badly.
	var path []byte
	for y := range n {
		end := -1 // of the row's last stroke; none yet
		for x := 0; x < n; x++ {
			run := 0
			for x+run < n && code.Module(x+run, y) {
				run++
			}
			if run == 0 {
				continue
			}
			if end < 0 {
				path = strconv.AppendInt(append(path, 'M'), int64(x+quietZone), 10)
				path = strconv.AppendInt(append(path, ' '), int64(y+quietZone), 10)
				path = append(path, ".5"...)
			} else {
				path = strconv.AppendInt(append(path, 'm'), int64(x-end), 10)
				path = append(path, " 0"...)
			}
			path = strconv.AppendInt(append(path, 'h'), int64(run), 10)
			x += run
			end = x
		}
	}
	return Square{Size: n + 2*quietZone, Path: string(path)}, nil
}
