package press

import (
	"image"
	"image/color"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/atlas"
)

// blackOnWhite draws items on a small picture, a unit a pixel.
func blackOnWhite(t require.TestingT, side atlas.Unit, items ...atlas.Item) *image.RGBA {
	l, err := newLetters()
	require.NoError(t, err)
	r := &raster{img: image.NewRGBA(image.Rect(0, 0, int(side), int(side))), k: 1, theme: Color, letters: l}
	paint(r, items)
	return r.img
}

// covered is how much of the picture is painted, in pixels.
func covered(img *image.RGBA) float64 {
	sum := 0.0
	for i := 3; i < len(img.Pix); i += 4 {
		sum += float64(img.Pix[i])
	}
	return sum / 255
}

var black = atlas.Paint{Role: atlas.Ink}

// A straight stroke covers its length times its width, wherever it lies and
// however many tiles it crosses.
func TestStrokesCoverLengthTimesWidth(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		at := func(name string) atlas.XY {
			return atlas.XY{X: atlas.Unit(rapid.IntRange(20, 280).Draw(t, name+"x")), Y: atlas.Unit(rapid.IntRange(20, 280).Draw(t, name+"y"))}
		}
		a, b := at("a"), at("b")
		w := atlas.Unit(rapid.IntRange(1, 18).Draw(t, "width"))
		length := math.Hypot(float64(b.X-a.X), float64(b.Y-a.Y))
		img := blackOnWhite(t, 300, atlas.Segments{Lines: []atlas.Segment{{A: a, B: b}}, Stroke: black, Width: w})
		want := length * float64(w)
		require.InDelta(t, want, covered(img), want*0.01+2)
		round := blackOnWhite(t, 300, atlas.Segments{Lines: []atlas.Segment{{A: a, B: b}}, Stroke: black, Width: w, Round: true})
		r := float64(w) / 2
		require.InDelta(t, want+math.Pi*r*r, covered(round), want*0.01+math.Pi*r*r*0.2+2, "and half a disk at each end")
	})
}

func TestMitersSquareTheCorners(t *testing.T) {
	ring := atlas.Ring{{X: 40, Y: 40}, {X: 240, Y: 40}, {X: 240, Y: 200}, {X: 40, Y: 200}}
	want := 220.0*180 - 180*140 // a frame 20 wide
	for range 2 {
		img := blackOnWhite(t, 300, atlas.Path{Rings: []atlas.Ring{ring}, Stroke: black, Width: 20})
		require.InDelta(t, want, covered(img), 3)
		require.Equal(t, uint8(255), img.RGBAAt(31, 31).A, "the corner is full")
		for i, j := 0, len(ring)-1; i < j; i, j = i+1, j-1 { // and the other way round
			ring[i], ring[j] = ring[j], ring[i]
		}
	}
	sharp := atlas.Ring{{X: 20, Y: 150}, {X: 250, Y: 152}, {X: 20, Y: 154}}
	img := blackOnWhite(t, 300, atlas.Path{Rings: []atlas.Ring{sharp}, Open: true, Stroke: black, Width: 10})
	require.Zero(t, img.RGBAAt(270, 152).A, "a miter over the limit is cut off")
}

func TestDashesLeaveGaps(t *testing.T) {
	line := func(dash []atlas.Unit, round bool) float64 {
		return covered(blackOnWhite(t, 300, atlas.Segments{Lines: []atlas.Segment{{A: atlas.XY{X: 10, Y: 50}, B: atlas.XY{X: 290, Y: 50}}}, Stroke: black, Width: 6, Dash: dash, Round: round}))
	}
	require.InDelta(t, 280*6, line(nil, false), 2)
	require.InDelta(t, 200*6, line([]atlas.Unit{40, 20}, false), 2)
	require.InDelta(t, 14*math.Pi*9, line([]atlas.Unit{0, 20}, true), 14*math.Pi*9*0.06, "a dot each 20, none at the very end")
	bent := atlas.Path{Open: true, Stroke: black, Width: 4, Dash: []atlas.Unit{30, 30}, Rings: []atlas.Ring{{{X: 20, Y: 20}, {X: 110, Y: 20}, {X: 110, Y: 140}}}}
	require.InDelta(t, 4*120, covered(blackOnWhite(t, 300, bent)), 4*120*0.06, "dashes go on around corners")
}

// Fills follow the even-odd rule, whichever way rings turn: checked point by point
// against a ray cast of its own.
func TestFillsFollowTheEvenOddRule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var rings []atlas.Ring
		size := rapid.IntRange(90, 140).Draw(t, "size")
		for size > 12 {
			c, s := atlas.Unit(150), atlas.Unit(size)
			ring := atlas.Ring{{X: c - s, Y: c - s}, {X: c + s, Y: c - s}, {X: c + s, Y: c + s}, {X: c - s, Y: c + s}}
			if rapid.Bool().Draw(t, "turn") {
				ring[1], ring[3] = ring[3], ring[1]
			}
			rings = append(rings, ring)
			size -= rapid.IntRange(12, 60).Draw(t, "step")
		}
		if rapid.Bool().Draw(t, "inner first") {
			for i, j := 0, len(rings)-1; i < j; i, j = i+1, j-1 {
				rings[i], rings[j] = rings[j], rings[i]
			}
		}
		img := blackOnWhite(t, 300, atlas.Path{Rings: rings, Fill: black})
		for x := 3; x < 300; x += 7 {
			odd := false
			near := false
			for _, r := range rings {
				half := int(r[2].X - 150)
				if half < 0 {
					half = -half
				}
				d := x - 150
				if d < 0 {
					d = -d
				}
				odd = odd != (d < half)
				near = near || d-half < 2 && half-d < 2
			}
			if !near {
				require.Equal(t, odd, img.RGBAAt(x, 150).A == 255, "x %d", x)
			}
		}
	})
}

// Letters are as wide as the layout measured them, within a unit a letter, and
// stand on their baseline.
func TestLettersAgreeWithTheLayout(t *testing.T) {
	l, err := newLetters()
	require.NoError(t, err)
	for f := range atlas.Face(faceCount) {
		for _, s := range []string{"T21N R8E", "Plover County", "≥ ½ 2,000", "program’s éñł"} {
			text := atlas.Text{X: 0, Y: 0, Size: 1000, Face: f, S: s}
			require.InDelta(t, atlas.TextWidth(f, 1000, s).MM(), l.width(text), 0.12, s)
			lo, hi := vec{math.Inf(1), math.Inf(1)}, vec{math.Inf(-1), math.Inf(-1)}
			l.set(text, func(c contour) {
				a, b := bounds([][]vec{c.corners()})
				lo, hi = vec{min(lo.x, a.x), min(lo.y, a.y)}, vec{max(hi.x, b.x), max(hi.y, b.y)}
			})
			box := text.Bounds()
			require.GreaterOrEqual(t, lo.x, float64(box.X0)-20, s)
			require.LessOrEqual(t, hi.x, float64(box.X1)+20, s)
			require.LessOrEqual(t, hi.y, float64(box.Y1)+15, s)
			require.InDelta(t, float64(box.Y0), lo.y, 130, s) // accents and ascenders rise a little above capitals
		}
	}
	require.Equal(t, "a? b?", l.clean(atlas.SansRegular, "a\U0001F33E\nb\x00"))
}

func TestColorsAreRead(t *testing.T) {
	c, ok := rgb("#0a80ff")
	require.True(t, ok)
	require.Equal(t, color.RGBA{R: 10, G: 128, B: 255, A: 255}, c)
	for _, bad := range []string{"", "#fff", "0a80ff0", "#zzzzzz"} {
		_, ok := rgb(bad)
		require.False(t, ok, bad)
	}
}

// Whatever a scene holds, painters get through it: lines of one point, rings that
// cross themselves, points far off the sheet, letters of any kind.
func TestAnyItemsPaint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		reach := rapid.SampledFrom([]int{3, 90, 100_000}).Draw(t, "reach")
		at := rapid.Custom(func(t *rapid.T) atlas.XY {
			return atlas.XY{X: atlas.Unit(rapid.IntRange(-reach, reach).Draw(t, "x")), Y: atlas.Unit(rapid.IntRange(-reach, reach).Draw(t, "y"))}
		})
		var rings []atlas.Ring
		for _, r := range rapid.SliceOfN(rapid.SliceOfN(at, 0, 6), 0, 3).Draw(t, "rings") {
			rings = append(rings, r)
		}
		dash := rapid.SampledFrom([][]atlas.Unit{nil, {0, 900}, {700, 300}, {0, 0}}).Draw(t, "dash")
		round := rapid.Bool().Draw(t, "round")
		items := []atlas.Item{
			atlas.Path{Rings: rings, Open: rapid.Bool().Draw(t, "open"), Fill: black, Stroke: black, Width: atlas.Unit(rapid.IntRange(0, 40).Draw(t, "width")), Dash: dash, Round: round},
			atlas.Segments{Lines: []atlas.Segment{{A: at.Draw(t, "a"), B: at.Draw(t, "b")}}, Stroke: black, Width: 5, Dash: dash, Round: round},
			atlas.Text{X: at.Draw(t, "text").X, Y: 40, Size: 20, Face: atlas.Face(rapid.IntRange(0, faceCount-1).Draw(t, "face")), Paint: black,
				Halo: round, Anchor: atlas.Anchor(rapid.IntRange(0, 2).Draw(t, "anchor")), Turn: rapid.SampledFrom([]int{0, -90}).Draw(t, "turn"), S: rapid.String().Draw(t, "s")},
		}
		blackOnWhite(t, 60, items...)
		s := atlas.Scene{Width: 60, Height: 60, Items: items}
		require.NoError(t, PDF(io.Discard, []atlas.Scene{s}, PDFOptions{Title: "x"}))
		require.NoError(t, SVG(io.Discard, s, Options{}))
	})
}
