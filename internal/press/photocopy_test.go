package press_test

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

// A copy of a copy: soft optics and a hard threshold, twice, at 150 dots to the
// inch. The model is ours; no standard describes a worn copier.
func photocopied(img *image.RGBA, generations int) func(x, y int) bool {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	page := make([]float32, w*h)
	for i := range page {
		p := img.Pix[4*i:]
		page[i] = (0.2126*float32(p[0]) + 0.7152*float32(p[1]) + 0.0722*float32(p[2])) / 255
	}
	kernel := []float32{0.06, 0.24, 0.4, 0.24, 0.06} // a normal curve of one dot
	for range generations {
		soft := make([]float32, w*h)
		for y := range h {
			for x := 2; x < w-2; x++ {
				i := y*w + x
				soft[i] = kernel[0]*(page[i-2]+page[i+2]) + kernel[1]*(page[i-1]+page[i+1]) + kernel[2]*page[i]
			}
		}
		for y := 2; y < h-2; y++ {
			for x := range w {
				i := y*w + x
				v := kernel[0]*(soft[i-2*w]+soft[i+2*w]) + kernel[1]*(soft[i-w]+soft[i+w]) + kernel[2]*soft[i]
				page[i] = 1
				if v < 0.55 {
					page[i] = 0
				}
			}
		}
	}
	return func(x, y int) bool { return page[y*w+x] == 0 }
}

func TestInkSurvivesTwoPhotocopies(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]atlas.County{"three": fixture.County(3), "five": fixture.AllClasses()} {
		t.Run(name, func(t *testing.T) {
			s := atlas.ComposeCounty(c, atlas.LetterWide)
			dark := photocopied(picture(t, s, press.PrintSize, press.Ink), 2)
			k := 1650 / float64(s.Width)
			counted := 0
			for _, p := range placesOf(s.Items) {
				if len(p.furrows) > 0 {
					counted++
					requireLines(t, p, k, dark)
				}
				requireEdges(t, p, k, dark)
			}
			require.Greater(t, counted, 15)
		})
	}
}

// requireEdges walks a place's boundary, which must still be there.
func requireEdges(t *testing.T, p placeOf, k float64, dark func(x, y int) bool) {
	t.Helper()
	hit, all := 0, 0
	for _, r := range p.rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			x, y := int(float64(a.X+b.X)/2*k), int(float64(a.Y+b.Y)/2*k)
			all++
			for d := range 9 {
				if dark(x+d%3-1, y+d/3-1) {
					hit++
					break
				}
			}
		}
	}
	require.Greater(t, hit*100, all*90, "%d of %d points of an edge", hit, all)
}
