package press_test

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

// A copier as people meet it: the sheet lies askew and a little larger or
// smaller on the glass, the optics are soft, the drum is dusty, and what comes
// out is black or white. The figures are ours; no standard describes it.
type copier struct {
	turn  float64 // degrees
	scale float64
	shift float64 // dots, both ways
	dust  float64 // share of dots turned over
}

var secondGeneration = []copier{
	{turn: 0.7, scale: 1.012, shift: 6, dust: 0.003},
	{turn: -0.4, scale: 0.985, shift: -9, dust: 0.003},
}

// put is where a point of the sheet comes to lie on a copy of the given size.
func (c copier) put(x, y, w, h float64) (float64, float64) {
	s, k := math.Sincos(c.turn * math.Pi / 180)
	x, y = x-w/2, y-h/2
	return w/2 + c.shift + c.scale*(k*x-s*y), h/2 + c.shift + c.scale*(s*x+k*y)
}

// back is the other way around.
func (c copier) back(x, y, w, h float64) (float64, float64) {
	s, k := math.Sincos(c.turn * math.Pi / 180)
	x, y = (x-w/2-c.shift)/c.scale, (y-h/2-c.shift)/c.scale
	return w/2 + k*x + s*y, h/2 - s*x + k*y
}

// copyOf makes one copy of a gray sheet.
func (c copier) copyOf(from *image.Gray, rng *rand.Rand) *image.Gray {
	w, h := from.Rect.Dx(), from.Rect.Dy()
	at := func(x, y int) float64 {
		if x < 0 || y < 0 || x >= w || y >= h {
			return 255
		}
		return float64(from.Pix[y*from.Stride+x])
	}
	glass := make([]float64, w*h)
	for y := range h {
		for x := range w {
			u, v := c.back(float64(x), float64(y), float64(w), float64(h))
			x0, y0 := int(math.Floor(u)), int(math.Floor(v))
			fx, fy := u-float64(x0), v-float64(y0)
			glass[y*w+x] = (1-fy)*((1-fx)*at(x0, y0)+fx*at(x0+1, y0)) + fy*((1-fx)*at(x0, y0+1)+fx*at(x0+1, y0+1))
			if rng.Float64() < c.dust {
				glass[y*w+x] = 255 - glass[y*w+x]
			}
		}
	}
	out := image.NewGray(from.Rect)
	for i := range out.Pix {
		out.Pix[i] = 255
	}
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			sum := 0.0
			for d, weight := range []float64{1, 2, 1, 2, 4, 2, 1, 2, 1} {
				sum += weight * glass[(y+d/3-1)*w+x+d%3-1]
			}
			if sum/16 < 140 {
				out.Pix[y*out.Stride+x] = 0
			}
		}
	}
	return out
}

// reader reads a township off a copy as a person does: it knows its outline and
// nothing else of the drawing, and counts lines.
type reader struct {
	page *image.Gray
	ring []ringPoint // on the copy
}

type ringPoint struct{ x, y float64 }

// within tells of every dot of a row whether it lies inside the outline and off
// the outline's own ink, to the sides and above and below.
func (r reader) within(y int) []bool {
	n := make([]int, r.page.Rect.Dx())
	for _, at := range []int{y - clearOf, y, y + clearOf} {
		var cross []float64
		for i, p := range r.ring {
			if q := r.ring[(i+1)%len(r.ring)]; (p.y > float64(at)) != (q.y > float64(at)) {
				cross = append(cross, p.x+(float64(at)-p.y)*(q.x-p.x)/(q.y-p.y))
			}
		}
		slices.Sort(cross)
		for i := 0; i+1 < len(cross); i += 2 {
			for x := int(cross[i]) + clearOf + 1; x < int(cross[i+1])-clearOf; x++ {
				n[x]++
			}
		}
	}
	out := make([]bool, len(n))
	for x := range n {
		out[x] = n[x] == 3
	}
	return out
}

// clearOf is how many dots from an outline nothing is read.
const clearOf = 4

// stroke tells that a dot belongs to a ruled line and not to a letter: ink eight
// dots wide and two high lies around it. Letters of a map's names are thinner.
func (r reader) stroke(x, y int) bool {
	for dy := range 2 {
		for dx := -3; dx <= 4; dx++ {
			if r.page.Pix[(y+dy)*r.page.Stride+x+dx] != 0 {
				return false
			}
		}
	}
	return true
}

// ruled is what is left of a row: how many dots of strokes, in how many pieces,
// the longest of so many.
type ruled struct{ dots, pieces, longest int }

func (r reader) row(y int) (out ruled, wide int) {
	piece := 0
	for x, well := range r.within(y) {
		if !well {
			piece = 0
			continue
		}
		wide++
		if !r.stroke(x, y) {
			piece = 0
			continue
		}
		out.dots++
		if piece == 0 {
			out.pieces++
		}
		piece++
		out.longest = max(out.longest, piece)
	}
	return out, wide
}

// read gives words for what is seen: "3 lines", "broken line", "no lines". Rows
// of strokes that touch are one line; short pieces in a row are a broken one.
func (r reader) read() string {
	top, bottom := math.Inf(1), math.Inf(-1)
	for _, p := range r.ring {
		top, bottom = min(top, p.y), max(bottom, p.y)
	}
	solid, broken := 0, 0
	var line ruled // the fullest row of the line that is being crossed
	var wide int
	for y := int(top); y <= int(bottom)+1; y++ {
		row, w := r.row(y)
		if row.dots > line.dots {
			line, wide = row, w
		}
		if row.dots > 0 {
			continue
		}
		switch {
		case 3*line.longest > wide:
			solid++
		case line.pieces >= 2 && 10*line.dots > wide:
			broken++
		}
		line = ruled{}
	}
	switch {
	case solid > 0:
		return strconv.Itoa(solid) + " lines"
	case broken == 1:
		return "broken line"
	}
	return "no lines"
}

func shouldRead(m atlas.Mark) string {
	switch m.Standing {
	case atlas.Found:
		return strconv.Itoa(m.Lines) + " lines"
	case atlas.Unconfirmed:
		return "broken line"
	}
	return "no lines"
}

// A second-generation photocopy of the map is read right: the black-and-white
// PDF is printed by poppler, copied twice, and every township's level is read off
// the copy by counting lines, by code that shares nothing with what drew them.
func TestSecondGenerationCopyIsReadRight(t *testing.T) {
	t.Parallel()
	for name, county := range map[string]atlas.County{"three levels": fixture.County(3), "five levels": fixture.AllClasses()} {
		t.Run(name, func(t *testing.T) {
			s := atlas.ComposeCounty(county, atlas.LetterWide)
			page := printed(t, s)
			w, h := float64(page.Rect.Dx()), float64(page.Rect.Dy())
			k := w / float64(s.Width)
			rng := rand.New(rand.NewPCG(2, 6))
			for _, c := range secondGeneration {
				page = c.copyOf(page, rng)
			}
			keep(t, name, page)
			seen := map[string]int{}
			joined := map[int]bool{}
			for _, j := range county.Joined {
				for _, id := range j.Members {
					joined[id] = true
				}
			}
			for _, p := range placesOf(s.Items) {
				if p.mark.Standing == atlas.NoFigures && joined[p.place] {
					continue // the lines of the joined townships run through it
				}
				r := reader{page: page}
				for _, at := range p.rings[0] {
					x, y := float64(at.X)*k, float64(at.Y)*k
					for _, c := range secondGeneration {
						x, y = c.put(x, y, w, h)
					}
					r.ring = append(r.ring, ringPoint{x, y})
				}
				want := shouldRead(p.mark)
				require.Equal(t, want, r.read(), "%s at %v", p.mark, r.ring[0])
				seen[want]++
			}
			require.GreaterOrEqual(t, seen["no lines"], 2)
			require.GreaterOrEqual(t, seen["broken line"], 1)
			require.GreaterOrEqual(t, len(seen), 5, "%v", seen)
		})
	}
}

// printed is a scene in black and white on paper, at 150 dots to the inch.
func printed(t *testing.T, s atlas.Scene) *image.Gray {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "map.pdf")
	var b bytes.Buffer
	require.NoError(t, press.PDF(&b, []atlas.Scene{s}, press.PDFOptions{Theme: press.Ink}))
	require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
	tool(t, "pdftoppm", "-r", "150", "-gray", "-png", "-singlefile", file, filepath.Join(dir, "page"))
	f, err := os.Open(filepath.Join(dir, "page.png"))
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	gray := image.NewGray(img.Bounds())
	draw.Draw(gray, gray.Rect, img, image.Point{}, draw.Src)
	return gray
}

// keep leaves the copy where SIXMILE_LOOK says, for people to read too.
func keep(t *testing.T, name string, page *image.Gray) {
	t.Helper()
	dir := os.Getenv("SIXMILE_LOOK")
	if dir == "" {
		return
	}
	f, err := os.Create(filepath.Join(dir, "copy "+name+".png"))
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, png.Encode(f, page))
}
