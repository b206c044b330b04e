package atlas_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
)

func TestTextsDoNotOverlap(t *testing.T) {
	check := func(t *testing.T, s atlas.Scene) {
		var texts []atlas.Text
		walk(s.Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
			if x, ok := it.(atlas.Text); ok {
				texts = append(texts, x)
			}
		})
		require.NotEmpty(t, texts)
		sheet := atlas.Box{X1: s.Width, Y1: s.Height}
		for i, a := range texts {
			x := a.Bounds()
			require.True(t, x.X0 >= sheet.X0 && x.Y0 >= sheet.Y0 && x.X1 <= sheet.X1 && x.Y1 <= sheet.Y1, "%q leaves the sheet", a.S)
			for _, b := range texts[:i] {
				y := b.Bounds()
				require.False(t, x.X0 < y.X1 && y.X0 < x.X1 && x.Y0 < y.Y1 && y.Y0 < x.Y1, "%q over %q", a.S, b.S)
			}
		}
	}
	counties(t, func(t *testing.T, _ atlas.County, s atlas.Scene) { check(t, s) })
	for _, p := range atlas.Papers() {
		t.Run("state "+p.String(), func(t *testing.T) { check(t, atlas.ComposeState(fixture.State(), p)) })
		t.Run("years "+p.String(), func(t *testing.T) {
			for _, n := range []int{0, 1, 2, 5, 8} {
				check(t, atlas.ComposeYears(fixture.County(3).Imprint, fixture.Years(n), p))
			}
		})
		for _, m := range atlas.Measures() {
			t.Run(m.String()+" "+p.String(), func(t *testing.T) {
				c := fixture.Measured(m)
				c.Band = "Not for release"
				check(t, atlas.ComposeCounty(c, p))
			})
		}
		t.Run("thousands "+p.String(), func(t *testing.T) { check(t, atlas.ComposeCounty(fixture.Thousands(), p)) })
	}
}

func TestNamesHideNoFurrow(t *testing.T) {
	counties(t, func(t *testing.T, _ atlas.County, s atlas.Scene) {
		var lines []atlas.Segment
		var names []atlas.Text
		walk(s.Items, atlas.LayerGroup, func(it atlas.Item, around atlas.GroupKind) {
			switch it := it.(type) {
			case atlas.Segments:
				if it.Kind == atlas.Furrows && around != atlas.LegendGroup {
					lines = append(lines, it.Lines...)
				}
			case atlas.Text:
				if it.Halo {
					names = append(names, it)
				}
			}
		})
		for _, n := range names {
			b := n.Bounds()
			for _, l := range lines {
				if l.A.Y < b.Y0 || l.A.Y > b.Y1 {
					continue
				}
				hidden := min(b.X1, l.B.X) - max(b.X0, l.A.X)
				require.LessOrEqual(t, hidden*2, l.B.X-l.A.X, "%q hides a furrow", n.S)
			}
		}
	})
}

// The legend holds the whole scale and, of all else, exactly what is drawn.
func TestLegendListsExactlyWhatIsDrawn(t *testing.T) {
	check := func(t *testing.T, c atlas.County, s atlas.Scene) {
		var rows, want []string
		walk(s.Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
			if g, ok := it.(atlas.Group); ok && g.Kind == atlas.LegendGroup {
				rows = append(rows, strings.TrimRight(strings.TrimPrefix(g.ID, "l"), "0123456789-"))
			}
		})
		drawn := map[string]bool{"joined": len(c.Joined) > 0}
		for _, a := range c.Areas {
			drawn[a.Mark.String()] = true
			drawn["first"] = drawn["first"] || a.First
		}
		for _, j := range c.Joined {
			drawn[j.Mark.String()] = true
		}
		for _, r := range c.Words.Legend {
			name := r.Mark.String()
			switch {
			case r.Joined:
				name = "joined"
			case r.First:
				name = "first"
			case r.Mark.Standing == atlas.NoneFound || r.Mark.Standing == atlas.Unconfirmed || r.Mark.Standing == atlas.Found || r.Mark.Standing == atlas.Measured:
				drawn[name] = true
			}
			if drawn[name] {
				want = append(want, strings.TrimRight(name, "0123456789-"))
			}
			delete(drawn, name)
		}
		for name, is := range drawn {
			require.False(t, is, "%s is drawn and not explained", name)
		}
		slices.Sort(rows)
		slices.Sort(want)
		require.Equal(t, want, rows)
	}
	counties(t, func(t *testing.T, c atlas.County, s atlas.Scene) { check(t, c, s) })
	for _, m := range atlas.Measures() {
		t.Run(m.String(), func(t *testing.T) {
			c := fixture.Measured(m)
			check(t, c, atlas.ComposeCounty(c, atlas.LetterTall))
		})
	}
}
