package press

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"strconv"

	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"sixmile/internal/atlas"
)

// Size is one of the sizes a picture can have: a fixed list, so that nobody can
// ask for one that fills the memory.
type Size uint8

// The sizes.
const (
	SlideSize Size = iota // 1920 × 1080; the scene is centered on it
	PrintSize             // longer side 1650: a letter sheet at 150 dots to the inch
	LargeSize             // longer side 3300: a letter sheet at 300, a tabloid one at 194
)

// box returns the pixels of a picture of the scene, and how many of them a unit
// takes.
func (s Size) box(sc atlas.Scene) (w, h int, k float64) {
	sw, sh := float64(max(sc.Width, 1)), float64(max(sc.Height, 1))
	if s == SlideSize {
		return 1920, 1080, min(1920/sw, 1080/sh)
	}
	long := 1650.0
	if s == LargeSize {
		long = 3300
	}
	k = long / max(sw, sh)
	return max(1, int(math.Round(sw*k))), max(1, int(math.Round(sh*k))), k
}

// PNG paints the scene as a picture of a size. The same scene gives the same
// bytes. It takes a lot of memory for a moment (a large one 45 MB): callers that
// serve many people hold a Limit around it.
func PNG(w io.Writer, s atlas.Scene, size Size, theme Theme) error {
	img, err := Picture(s, size, theme)
	if err != nil {
		return err
	}
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(w, img); err != nil {
		return fmt.Errorf("press.PNG: %w", err)
	}
	return nil
}

// Picture is PNG before it is encoded.
func Picture(s atlas.Scene, size Size, theme Theme) (*image.RGBA, error) {
	l, err := newLetters()
	if err != nil {
		return nil, fmt.Errorf("press.Picture: %w", err)
	}
	w, h, k := size.box(s)
	r := &raster{img: image.NewRGBA(image.Rect(0, 0, w, h)), k: k, theme: theme, letters: l}
	r.dx, r.dy = (float64(w)-float64(s.Width)*k)/2, (float64(h)-float64(s.Height)*k)/2
	ground := r.color(atlas.Paint{Role: atlas.PaperRole})
	draw.Draw(r.img, r.img.Bounds(), ground, image.Point{}, draw.Src)
	paint(r, s.Items)
	return r.img, nil
}

// raster is a canvas of pixels. Each shape is rasterized in its own bounds: over
// the whole picture each would cost as much as all of them do now.
type raster struct {
	img     *image.RGBA
	k       float64 // pixels of a unit
	dx, dy  float64 // where the scene begins
	theme   Theme
	letters *letters
	z       vector.Rasterizer
	ox, oy  float64 // of the shape being rasterized
	points  []vec   // of the polygons of a stroke
	polys   []poly
}

// color returns what a role looks like, nil where nothing is painted.
func (r *raster) color(p atlas.Paint) *image.Uniform {
	c, ok := rgb(r.theme.Color(p))
	if !ok {
		return nil
	}
	return image.NewUniform(c)
}

// rgb reads #rrggbb.
func rgb(s string) (color.RGBA, bool) {
	if len(s) != 7 || s[0] != '#' {
		return color.RGBA{}, false
	}
	v, err := strconv.ParseUint(s[1:], 16, 32)
	if err != nil {
		return color.RGBA{}, false
	}
	return color.RGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 255}, true
}

func (r *raster) at(p atlas.XY) vec {
	return vec{float64(p.X)*r.k + r.dx, float64(p.Y)*r.k + r.dy}
}

func (r *raster) ring(ring atlas.Ring) []vec {
	out := make([]vec, len(ring))
	for i, p := range ring {
		out[i] = r.at(p)
	}
	return out
}

// start makes ready for a shape within the bounds; false when none of it shows.
func (r *raster) start(lo, hi vec, margin float64) (image.Rectangle, bool) {
	b := r.pixels(lo, hi, margin)
	if b.Empty() {
		return b, false
	}
	r.begin(b)
	return b, true
}

// pixels are those of the picture that bounds reach.
func (r *raster) pixels(lo, hi vec, margin float64) image.Rectangle {
	return image.Rect(int(math.Floor(lo.x-margin)), int(math.Floor(lo.y-margin)),
		int(math.Ceil(hi.x+margin)), int(math.Ceil(hi.y+margin))).Intersect(r.img.Bounds())
}

func (r *raster) begin(b image.Rectangle) {
	r.z.Reset(b.Dx(), b.Dy())
	r.ox, r.oy = float64(b.Min.X), float64(b.Min.Y)
}

func (r *raster) move(p vec) { r.z.MoveTo(float32(p.x-r.ox), float32(p.y-r.oy)) }
func (r *raster) draw(p vec) { r.z.LineTo(float32(p.x-r.ox), float32(p.y-r.oy)) }

func (r *raster) polygon(points []vec) {
	for i, p := range points {
		if i == 0 {
			r.move(p)
		} else {
			r.draw(p)
		}
	}
	r.z.ClosePath()
}

func (r *raster) finish(b image.Rectangle, c *image.Uniform) { r.z.Draw(r.img, b, c, image.Point{}) }

func bounds(rings [][]vec) (lo, hi vec) {
	lo, hi = vec{math.Inf(1), math.Inf(1)}, vec{math.Inf(-1), math.Inf(-1)}
	for _, ring := range rings {
		for _, p := range ring {
			lo, hi = vec{min(lo.x, p.x), min(lo.y, p.y)}, vec{max(hi.x, p.x), max(hi.y, p.y)}
		}
	}
	return lo, hi
}

func fixedInt(n sfntUnits) fixed.Int26_6 { return fixed.I(int(n)) }
