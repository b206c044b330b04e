package press_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

func picture(t testing.TB, s atlas.Scene, size press.Size, theme press.Theme) *image.RGBA {
	t.Helper()
	img, err := press.Picture(s, size, theme)
	require.NoError(t, err)
	return img
}

// placeOf is what a test needs of one place of a scene.
type placeOf struct {
	place   int
	mark    atlas.Mark
	rings   []atlas.Ring
	furrows []atlas.Segment
	dash    []atlas.Unit
	width   atlas.Unit
	over    []atlas.Box // names and pieces of rivers, anywhere on the map
}

func placesOf(items []atlas.Item) []placeOf {
	var out []placeOf
	var over []atlas.Box
	for _, it := range items {
		g, ok := it.(atlas.Group)
		if !ok || g.ID != "names" && g.ID != "water" {
			continue
		}
		for _, it := range g.Items {
			switch it := it.(type) {
			case atlas.Text:
				b := it.Bounds()
				over = append(over, atlas.Box{X0: b.X0 - 80, Y0: b.Y0 - 80, X1: b.X1 + 80, Y1: b.Y1 + 80})
			case atlas.Segments: // a town
				for _, l := range it.Lines {
					over = append(over, atlas.Box{X0: l.A.X - 60, Y0: l.A.Y - 60, X1: l.B.X + 60, Y1: l.B.Y + 60})
				}
			case atlas.Path:
				for _, r := range it.Rings {
					for i := 1; i < len(r); i++ {
						p, q := r[i-1], r[i]
						over = append(over, atlas.Box{X0: min(p.X, q.X) - 80, Y0: min(p.Y, q.Y) - 80, X1: max(p.X, q.X) + 80, Y1: max(p.Y, q.Y) + 80})
					}
				}
			}
		}
	}
	for _, it := range items {
		g, ok := it.(atlas.Group)
		if !ok || g.Kind != atlas.PlaceGroup {
			continue
		}
		p := placeOf{place: g.Place, mark: g.Mark, over: over}
		for _, it := range g.Items {
			switch it := it.(type) {
			case atlas.Path:
				if it.Key != "" {
					p.rings = it.Rings
				}
			case atlas.Segments:
				if it.Kind == atlas.Furrows {
					p.furrows, p.dash, p.width = it.Lines, it.Dash, it.Width
				}
			}
		}
		out = append(out, p)
	}
	return out
}

func inside(rings []atlas.Ring, x, y float64) bool {
	in := false
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			if (float64(p.Y) > y) != (float64(q.Y) > y) && x < float64(p.X)+(y-float64(p.Y))*float64(q.X-p.X)/float64(q.Y-p.Y) {
				in = !in
			}
		}
	}
	return in
}

func rgba(t *testing.T, s string) color.RGBA {
	t.Helper()
	var c color.RGBA
	_, err := fmt.Sscanf(s, "#%02x%02x%02x", &c.R, &c.G, &c.B)
	require.NoError(t, err)
	c.A = 255
	return c
}

func far(a, b color.RGBA) int {
	d := func(x, y uint8) int { return int(math.Abs(float64(x) - float64(y))) }
	return max(d(a.R, b.R), d(a.G, b.G), d(a.B, b.B))
}

// runs counts the stretches of a column or row that satisfy is.
func runs(from, to int, is func(int) bool) int {
	n, in := 0, false
	for i := from; i <= to; i++ {
		if now := is(i); now != in {
			in = now
			if now {
				n++
			}
		}
	}
	return n
}

// The picture shows each place in its fill, and as many lines as its class.
func TestPNGShowsTheScene(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]atlas.County{"three": fixture.County(3), "five": fixture.AllClasses()} {
		for _, theme := range press.Themes() {
			if name == "five" && theme != press.Dark {
				continue // one is enough
			}
			t.Run(fmt.Sprint(name, " ", theme), func(t *testing.T) {
				s := atlas.ComposeCounty(c, atlas.Slide)
				img := picture(t, s, press.SlideSize, theme)
				k := 1920 / float64(s.Width)
				places := placesOf(s.Items)
				require.Len(t, places, len(c.Areas))
				for _, p := range places {
					switch p.mark.Standing {
					case atlas.NoneFound, atlas.Unconfirmed, atlas.Found:
						requireFill(t, img, p, k, rgba(t, theme.Color(paintOf(p.mark, atlas.Level))))
					}
					if len(p.furrows) > 0 {
						line := rgba(t, theme.Color(paintOf(p.mark, atlas.OnLevel)))
						requireLines(t, p, k, func(x, y int) bool { return far(img.RGBAAt(x, y), line) < 90 })
					}
				}
			})
		}
	}
}

func paintOf(m atlas.Mark, role atlas.Role) atlas.Paint {
	step := map[atlas.Standing]int{atlas.NoneFound: 0, atlas.Unconfirmed: 1, atlas.Found: 1 + m.Lines}[m.Standing]
	return atlas.Paint{Role: role, Step: uint8(step), Of: uint8(m.Of)}
}

// requireFill looks at a lattice of points inside a place: most must show its fill.
func requireFill(t *testing.T, img *image.RGBA, p placeOf, k float64, want color.RGBA) {
	t.Helper()
	hit, all := 0, 0
	lo, hi := p.rings[0][0], p.rings[0][0]
	for _, q := range p.rings[0] {
		lo, hi = atlas.XY{X: min(lo.X, q.X), Y: min(lo.Y, q.Y)}, atlas.XY{X: max(hi.X, q.X), Y: max(hi.Y, q.Y)}
	}
	for y := lo.Y; y < hi.Y; y += 71 {
		for x := lo.X; x < hi.X; x += 67 {
			if inside(p.rings, float64(x), float64(y)) {
				all++
				if img.RGBAAt(int(float64(x)*k), int(float64(y)*k)) == want {
					hit++
				}
			}
		}
	}
	require.NotZero(t, all)
	require.Greater(t, hit*100, all*40, "%s: %d of %d points", p.mark, hit, all)
}

// requireLines counts lines down a place, wherever no name and no river lies over
// them: as many as the class. A broken line is counted along.
func requireLines(t *testing.T, p placeOf, k float64, dark func(x, y int) bool) {
	t.Helper()
	a, b := p.furrows[0].A.X, p.furrows[0].B.X
	for _, l := range p.furrows {
		a, b = max(a, l.A.X), min(b, l.B.X)
	}
	if a >= b {
		return // no column crosses all
	}
	first, last := float64(p.furrows[0].A.Y)*k, float64(p.furrows[len(p.furrows)-1].A.Y)*k
	if p.mark.Standing == atlas.Unconfirmed {
		length := p.furrows[0].B.X - p.furrows[0].A.X
		want := int((length + p.dash[1]) / (p.dash[0] + p.dash[1]))
		got := runs(int(float64(a)*k)-2, int(float64(b)*k)+2, func(x int) bool { return dark(x, int(first)) })
		require.InDelta(t, want, got, 1, "dashes")
		require.GreaterOrEqual(t, got, 2, "broken")
		return
	}
	reach := float64(p.width)*k/2 + 1.5
	columns := map[int]int{}
	for i := atlas.Unit(4); i <= 26; i++ { // the very ends are soft
		at := a + (b-a)*i/30
		if p.covered(at) {
			continue
		}
		columns[runs(int(first-reach), int(last+reach), func(y int) bool { return dark(int(float64(at)*k), y) })]++
	}
	for n := range columns {
		require.Equal(t, len(p.furrows), n, "%s: %v", p.mark, columns)
	}
}

// covered reports whether a name or river lies over the furrows where x is.
func (p placeOf) covered(x atlas.Unit) bool {
	top, bottom := p.furrows[0].A.Y, p.furrows[len(p.furrows)-1].A.Y
	for _, b := range p.over {
		if b.X0 < x && x < b.X1 && b.Y0 < bottom && top < b.Y1 {
			return true
		}
	}
	return false
}

func TestPNGFile(t *testing.T) {
	t.Parallel()
	s, err := press.TitleSlide("Plover County", "½ of it", "")
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, press.PNG(&b, s, press.SlideSize, press.Color))
	img, err := png.Decode(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	want := picture(t, s, press.SlideSize, press.Color)
	require.Equal(t, want.Rect, img.Bounds())
	for y := range 1080 {
		x := y * 16 / 9
		require.Equal(t, want.RGBAAt(x, y), color.RGBAModel.Convert(img.At(x, y)))
	}
	for size, want := range map[press.Size]image.Point{press.SlideSize: {X: 1920, Y: 1080}, press.PrintSize: {X: 1275, Y: 1650}} {
		require.Equal(t, want, picture(t, atlas.Scene{Width: 21590, Height: 27940}, size, press.Color).Rect.Size(), size)
	}
	tall := atlas.Scene{Width: 10, Height: 100000}
	require.Equal(t, image.Pt(1, 3300), picture(t, tall, press.LargeSize, press.Color).Rect.Size(), "no scene makes a picture larger")
}
