package open

import (
	"fmt"
	"strconv"

	qr "github.com/piglig/go-qr"
)

// quietZone is the empty border that readers need, in modules (ISO/IEC 18004).
const quietZone = 4

// qrCode is a square code as one path of an SVG, a module being one unit.
type qrCode struct {
	Size int // with the quiet zone
	Path string
}

// Box is the SVG's viewBox.
func (q qrCode) Box() string { return fmt.Sprintf("0 0 %d %d", q.Size, q.Size) }

// newQR makes the code of a text. Level M mends codes that were photographed
// from a scratched screen or a folded page.
func newQR(text string) (qrCode, error) {
	code, err := qr.EncodeText(text, qr.Medium)
	if err != nil {
		return qrCode{}, fmt.Errorf("square code: %w", err)
	}
	var path []byte
	n := code.Size()
	for y := range n {
		for x := 0; x < n; x++ {
			run := 0
			for x+run < n && code.Module(x+run, y) {
				run++
			}
			if run > 0 {
				path = strconv.AppendInt(append(path, 'M'), int64(x+quietZone), 10)
				path = strconv.AppendInt(append(path, ' '), int64(y+quietZone), 10)
				path = strconv.AppendInt(append(path, 'h'), int64(run), 10)
				path = strconv.AppendInt(append(path, "v1h-"...), int64(run), 10)
				path = append(path, 'z')
				x += run
			}
		}
	}
	return qrCode{Size: n + 2*quietZone, Path: string(path)}, nil
}
