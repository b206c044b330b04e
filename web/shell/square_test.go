package shell

import (
	"bytes"
	"image"
	"image/color"
	"regexp"
	"strconv"
	"strings"
	"testing"

	qr "github.com/piglig/go-qr"
	"github.com/stretchr/testify/require"
)

// The path that the page draws is read back by a decoder, as a photograph
// would be: module by module at eight pixels.
func TestSquareReadsBack(t *testing.T) {
	for _, text := range []string{
		"https://soil.example.org/answer/AAAAAAAAAAAAAAAAAAAAAA",
		"http://a-rather-long-name-of-a-county-office.extension.example.edu:8080/answer/_-9zAAAAAAAAAAAAAAAAAA",
	} {
		code, err := NewSquare(text)
		require.NoError(t, err)
		got, err := qr.Decode(drawn(t, code))
		require.NoError(t, err)
		require.Equal(t, text, got)
		var b strings.Builder
		require.NoError(t, SquareCode("a <label>", code).Render(t.Context(), &b))
		require.Contains(t, b.String(), `aria-label="a &lt;label&gt;"`)
		require.Contains(t, b.String(), `<path d="`+code.Path+`" stroke="#000">`)
	}
	_, err := NewSquare(string(bytes.Repeat([]byte("x"), 4000)))
	require.Error(t, err)
}

var stroke = regexp.MustCompile(`(?:M(\d+) (\d+)\.5|m(\d+) 0)h(\d+)`)

// drawn paints a code's path the way a browser does: lines one unit wide.
func drawn(t *testing.T, code Square) image.Image {
	const scale = 8
	img := image.NewGray(image.Rect(0, 0, code.Size*scale, code.Size*scale))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	require.Empty(t, stroke.ReplaceAllString(code.Path, ""), "the path holds strokes and nothing else")
	x, y := 0, 0
	number := func(s string) int {
		n, err := strconv.Atoi(s)
		require.NoError(t, err)
		return n
	}
	for _, m := range stroke.FindAllStringSubmatch(code.Path, -1) {
		if m[1] != "" {
			x, y = number(m[1]), number(m[2])
		} else {
			x += number(m[3])
		}
		length := number(m[4])
		require.GreaterOrEqual(t, min(x, y), quietZone)
		require.LessOrEqual(t, max(x+length, y+1), code.Size-quietZone)
		for py := y * scale; py < (y+1)*scale; py++ {
			for px := x * scale; px < (x+length)*scale; px++ {
				img.SetGray(px, py, color.Gray{})
			}
		}
		x += length
	}
	return img
}
