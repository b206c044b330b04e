package atlas_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
)

func TestParseMeasure(t *testing.T) {
	for _, m := range atlas.Measures() {
		got, err := atlas.ParseMeasure(m.String())
		require.NoError(t, err)
		require.Equal(t, m, got)
	}
	_, err := atlas.ParseMeasure("mean")
	require.ErrorContains(t, err, "atlas.ParseMeasure")
	require.Equal(t, "measure 40", atlas.Measure(40).String())
}

func TestPercent(t *testing.T) {
	for _, c := range []struct{ part, whole, want int }{
		{0, 0, 0}, {0, 9, 0}, {9, 9, 100}, {1, 400, 1}, {399, 400, 99}, {1, 3, 33}, {2, 3, 67}, {1, 8, 13}, {1, 2, 50}, {5, 3, 100}, {-1, 5, 0},
	} {
		require.Equal(t, c.want, atlas.Percent(c.part, c.whole), "%d of %d", c.part, c.whole)
	}
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.IntRange(2, 100000).Draw(t, "whole")
		part := rapid.IntRange(1, whole-1).Draw(t, "part")
		got := atlas.Percent(part, whole)
		require.True(t, got >= 1 && got <= 99, "only none is 0, only all is 100")
		if exact := 100 * float64(part) / float64(whole); exact >= 1 && exact <= 99 {
			require.InDelta(t, exact, float64(got), 0.5)
		}
	})
}

// Every number belongs to exactly the step whose limits hold it, and the steps
// leave no gap.
func TestStepsAgreeWithMarks(t *testing.T) {
	marks := map[atlas.Measure]func(int) atlas.Mark{
		atlas.ShareFound:  func(n int) atlas.Mark { return atlas.ShareMark(n, 100) },
		atlas.SampleCount: atlas.SamplesMark,
	}
	for _, m := range atlas.Measures() {
		require.Equal(t, m.Steps() != nil, marks[m] != nil, "%s: a measure with steps has a mark here", m)
	}
	for m, mark := range marks {
		steps := m.Steps()
		require.Len(t, steps, atlas.AmountSteps)
		for n := steps[0].From; n <= 100; n++ {
			var held []atlas.Mark
			for _, s := range steps {
				if n >= s.From && (s.To < 0 || n <= s.To) {
					held = append(held, s.Mark)
				}
			}
			require.Equal(t, []atlas.Mark{mark(n)}, held, "%s %d", m, n)
		}
	}
	require.Equal(t, 100, atlas.ShareFound.Steps()[4].To)
	require.Equal(t, -1, atlas.SampleCount.Steps()[4].To)
	require.Nil(t, atlas.HighestLevel.Steps())
	require.Equal(t, atlas.Mark{}, atlas.ShareMark(0, 0), "no samples, no figure")
	require.Equal(t, atlas.Mark{}, atlas.SamplesMark(0))
	require.Equal(t, "measured-1", atlas.ShareMark(0, 40).String())
	require.Equal(t, "measured-2", atlas.ShareMark(1, 400).String(), "few is not none")
}

// Numbers are printed in their places, and lie inside them.
func TestNumbersLieInTheirPlaces(t *testing.T) {
	for _, m := range atlas.Measures() {
		if m.Steps() == nil {
			continue
		}
		for _, p := range atlas.Papers() {
			t.Run(fmt.Sprint(m, " ", p), func(t *testing.T) {
				c := fixture.Measured(m)
				values := map[int]string{}
				for _, a := range c.Areas {
					if a.Value != "" {
						values[a.ID] = a.Value
					}
				}
				require.NotEmpty(t, values, "fixture.Measured has no numbers of it")
				printed := 0
				walk(atlas.ComposeCounty(c, p).Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
					g, ok := it.(atlas.Group)
					if !ok || g.Kind != atlas.PlaceGroup {
						return
					}
					var rings []atlas.Ring
					for _, it := range g.Items {
						switch it := it.(type) {
						case atlas.Path:
							if it.Key != "" {
								rings = it.Rings
							}
						case atlas.Text:
							if it.Face == atlas.SansSemiBold {
								require.Equal(t, values[g.Place], it.S)
								requireInside(t, rings, it.Bounds())
								printed++
							}
						}
					}
				})
				require.Equal(t, len(values), printed, "each number once")
			})
		}
	}
}

// requireInside checks the corners and middles of a box by ray casting.
func requireInside(t *testing.T, rings []atlas.Ring, b atlas.Box) {
	t.Helper()
	mx, my := (b.X0+b.X1)/2, (b.Y0+b.Y1)/2
	for _, at := range []atlas.XY{{X: b.X0, Y: b.Y0}, {X: b.X1, Y: b.Y0}, {X: b.X0, Y: b.Y1}, {X: b.X1, Y: b.Y1}, {X: mx, Y: my}, {X: mx, Y: b.Y0}, {X: mx, Y: b.Y1}, {X: b.X0, Y: my}, {X: b.X1, Y: my}} {
		odd := false
		for _, r := range rings {
			for i, p := range r {
				q := r[(i+1)%len(r)]
				if (p.Y > at.Y) != (q.Y > at.Y) && float64(at.X) < float64(p.X)+float64(at.Y-p.Y)*float64(q.X-p.X)/float64(q.Y-p.Y) {
					odd = !odd
				}
			}
		}
		require.True(t, odd, "%v of %v is outside", at, b)
	}
}

func TestFirstFindsAreOutlinedInside(t *testing.T) {
	c := fixture.Measured(atlas.NewFigures)
	want := map[int]bool{}
	for _, a := range c.Areas {
		if a.First {
			want[a.ID] = true
		}
	}
	require.NotEmpty(t, want)
	got := map[int]bool{}
	walk(atlas.ComposeCounty(c, atlas.LetterWide).Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
		g, ok := it.(atlas.Group)
		if !ok || g.Kind != atlas.PlaceGroup {
			return
		}
		for _, it := range g.Items {
			if p, ok := it.(atlas.Path); ok && p.Stroke.Role == atlas.Emphasis {
				got[g.Place] = true
			}
		}
	})
	require.Equal(t, want, got)
}

func TestBandLiesAboveAndBelowTheMap(t *testing.T) {
	for _, p := range atlas.Papers() {
		c := fixture.County(3)
		c.Band = "Not for release"
		var strips []atlas.Box
		words := 0
		var lines []atlas.Segment
		walk(atlas.ComposeCounty(c, p).Items, atlas.LayerGroup, func(it atlas.Item, around atlas.GroupKind) {
			switch it := it.(type) {
			case atlas.Path:
				if it.Fill.Role == atlas.BandFill {
					r := it.Rings[0]
					strips = append(strips, atlas.Box{X0: r[0].X, Y0: r[0].Y, X1: r[2].X, Y1: r[2].Y})
				}
			case atlas.Text:
				if it.S == c.Band {
					words++
				}
			case atlas.Segments:
				if it.Kind == atlas.Furrows && around != atlas.LegendGroup {
					lines = append(lines, it.Lines...)
				}
			}
		})
		require.Len(t, strips, 2, p)
		require.GreaterOrEqual(t, words, 2, p)
		for _, l := range lines {
			require.True(t, l.A.Y > strips[0].Y1 && l.A.Y < strips[1].Y0, p)
		}
	}
}

func TestYearsShowEveryEditionAtOneScale(t *testing.T) {
	maps := fixture.Years(5)
	s := atlas.ComposeYears(fixture.County(3).Imprint, maps, atlas.LetterTall)
	ids, marks := map[string]bool{}, map[string]int{}
	widths := map[atlas.Unit]bool{}
	captions := 0
	walk(s.Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
		switch it := it.(type) {
		case atlas.Group:
			require.False(t, ids[it.ID], "id twice: %s", it.ID)
			ids[it.ID] = true
			if it.Kind == atlas.PlaceGroup {
				marks[it.ID[:2]]++
			}
		case atlas.Text:
			for _, c := range maps {
				if it.S == c.Title {
					captions++
				}
			}
		case atlas.Path:
			if it.Stroke.Role == atlas.Boundary {
				lo, hi := atlas.Unit(math.MaxInt32), atlas.Unit(math.MinInt32)
				for _, p := range it.Rings[0] {
					lo, hi = min(lo, p.X), max(hi, p.X)
				}
				widths[hi-lo] = true
			}
		}
	})
	require.Equal(t, 5, captions)
	require.Len(t, marks, 5)
	for y, n := range marks {
		require.Equal(t, len(maps[0].Areas), n, y)
	}
	require.Len(t, widths, 1, "one scale")
}

func TestBarsAreAsLongAsTheirCounts(t *testing.T) {
	c := fixture.County(3)
	byPaint := map[atlas.Paint]atlas.Unit{}
	walk(atlas.ComposeCounty(c, atlas.Screen).Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
		if g, ok := it.(atlas.Group); ok && g.ID == "bars" {
			for _, it := range g.Items {
				if p, ok := it.(atlas.Path); ok && p.Fill.Role == atlas.Level {
					byPaint[p.Fill] = p.Rings[0][1].X - p.Rings[0][0].X
				}
			}
		}
	})
	require.Len(t, byPaint, len(c.Bars))
	full := float64(byPaint[atlas.Paint{Role: atlas.Level, Step: 0, Of: 3}])
	for i, b := range c.Bars {
		got := byPaint[atlas.Paint{Role: atlas.Level, Step: uint8(i), Of: 3}]
		require.InDelta(t, full*float64(b.Count)/float64(c.Bars[0].Count), float64(got), 1, b.Name)
	}
}

func TestShiftedMovesEverything(t *testing.T) {
	s := atlas.ComposeCounty(fixture.County(3), atlas.LetterWide)
	there := atlas.Scene{Width: s.Width, Height: s.Height, Title: s.Title, Items: s.Shifted(1200, -340)}
	require.NotEqual(t, s.Items, there.Items)
	require.Equal(t, dump(s), dump(atlas.Scene{Width: s.Width, Height: s.Height, Title: s.Title, Items: there.Shifted(-1200, 340)}))
}

func TestTabloidIsTwiceLetter(t *testing.T) {
	lw, lh := atlas.LetterTall.Size()
	tw, th := atlas.TabloidWide.Size()
	require.Equal(t, []atlas.Unit{2 * lw, lh}, []atlas.Unit{tw + 0, th})
	hw, hh := atlas.HalfLetter.Size()
	require.Equal(t, []atlas.Unit{lh / 2, lw}, []atlas.Unit{hw, hh})
	sw, sh := atlas.Slide.Size()
	require.InDelta(t, 16.0/9, float64(sw)/float64(sh), 0.0005)
}

func FuzzParsePaperAndMeasure(f *testing.F) {
	for _, s := range []string{"screen", "half-letter", "poster panel", "share", "", "Letter-wide"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if p, err := atlas.ParsePaper(s); err == nil {
			require.Equal(t, s, p.String(), "one spelling each")
			require.NotContains(t, s, " ", "panels cannot be asked for")
		}
		if m, err := atlas.ParseMeasure(s); err == nil {
			require.Equal(t, s, m.String())
		}
	})
}
