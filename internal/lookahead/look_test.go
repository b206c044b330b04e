package lookahead

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
)

func ahead(t require.TestingT, f Field, p Plan) Outlook {
	out, err := Ahead(Standard(), f, []Plan{p}, nil, Options{Seed: 6})
	require.NoError(t, err)
	return out[0]
}

func times(n int, c ...Crop) []Crop {
	var out []Crop
	for range n {
		out = append(out, c...)
	}
	return out
}

func (b Band) holds(x float64) bool { return x >= b.Low80 && x <= b.High80 }

// Three years of corn took 6,994 eggs to 889 and 14,000 to 3,695 (Chen and others
// 2001), and two soybean crops in a corn rotation changed counts by -80 %, -54 %
// and +189 % for resistant, moderately resistant and susceptible varieties (Adee,
// Johnson and Niblack 2008). The 80 % band must hold them all; what is ours in
// them stands at Trials.
func TestPublishedSeriesAreInsideTheBand(t *testing.T) {
	verdicts, err := Standard().Against(Trials())
	require.NoError(t, err)
	held := 0
	for _, v := range verdicts {
		if strings.HasPrefix(v.Trial, "ohio") {
			continue
		}
		held++
		require.True(t, v.Inside, "%+v", v)
	}
	require.Equal(t, 5, held)
}

// The susceptible change holds from a higher start too, the resistant one from a
// lower: where Adee's began is not known to us.
func TestTwoSoybeanCropsFromOtherStarts(t *testing.T) {
	for _, tt := range []struct {
		crop         Crop
		from, factor float64
	}{{PI88788, 1000, 0.20}, {Susceptible, 5000, 2.89}} {
		o := ahead(t, Field{Start: Counted(tt.from)}, Plan{Crops: []Crop{tt.crop, NonHost, tt.crop, NonHost}})
		require.True(t, o.Last().Eggs.holds(tt.factor*tt.from), "%s: %+v", tt.crop, o.Last().Eggs)
	}
}

// A field near Urbana, Iowa, in 2013 went from 431 eggs in spring to 16,350
// under a susceptible and to 1,120 under a resistant soybean: one field of many,
// stated here and not asked to be inside the band.
func TestSusceptibleStaysUnderWhatFieldsHaveShown(t *testing.T) {
	o := ahead(t, Field{Start: Counted(5000)}, Plan{Crops: times(6, Susceptible)})
	e := o.Last().Eggs
	// "A few thousand to tens of thousands" (University of Minnesota); 136,000
	// and more have been counted in Nebraska.
	require.Greater(t, e.Low80, 2000.0)
	require.Less(t, e.High80, 136000.0)
	require.Greater(t, e.Median, 5000.0)
}

// Ohio, report SC 166-99, September 1995 to 1998: corn, corn, resistant soybean,
// after a susceptible and after a resistant soybean. The model was not fitted to
// them: this draws them (go test -v) and states how many of the six falls the
// 80 % band holds, looked ahead from 1995 and from each fall to the next. Counts
// fell faster there than in Minnesota, where the set's figures are from, as they
// do to the south; and each is a count, with its own luck, which the band leaves
// out.
func TestOhioSeries(t *testing.T) {
	inside, steps, of := 0, 0, 0
	for _, trial := range Trials() {
		if !strings.HasPrefix(trial.Key, "ohio") {
			continue
		}
		verdicts, err := Standard().Against([]Trial{trial})
		require.NoError(t, err)
		before := trial.Field.Start.Low
		for i, v := range verdicts {
			of++
			if v.Inside {
				inside++
			}
			if ahead(t, Field{Start: Counted(before)}, Plan{Crops: trial.Plan.Crops[i : i+1]}).Last().Eggs.holds(v.Seen) {
				steps++
			}
			before = v.Seen
			t.Logf("%-18s %d %s %6.0f  |  %6.0f to %6.0f", trial.Key, 1995+v.Year, strip(v.Eggs, v.Seen), v.Seen, v.Eggs.Low80, v.Eggs.High80)
		}
	}
	t.Logf("inside the 80 %% band: %d of %d falls from 1995, %d of %d from one fall to the next", inside, of, steps, of)
	require.Equal(t, 6, of)
	require.GreaterOrEqual(t, steps, of/2, "the band is of no use where more than half the falls leave it")
}

// strip draws a band from 10 to 100,000 eggs, ten characters a power of ten.
func strip(b Band, seen float64) string {
	line := []rune(strings.Repeat(" ", 41))
	at := func(x float64) int { return max(0, min(40, int(math.Round(10*(math.Log10(x)-1))))) }
	for i := at(b.Low80); i <= at(b.High80); i++ {
		line[i] = '-'
	}
	for i := at(b.Low50); i <= at(b.High50); i++ {
		line[i] = '='
	}
	line[at(b.Median)] = '|'
	line[at(seen)] = 'o'
	return string(line)
}

// Poromarto and Nelson 2009: kidney, then navy, pinto and black; Ontario's
// ranking (2019) agrees: soybean about as kidney, then navy, then black.
func TestDryBeansRank(t *testing.T) {
	f := Field{Start: Counted(2000)}
	order := []Crop{NonHost, Black, Pinto, Navy, Susceptible, Kidney}
	last := -1.0
	for _, c := range order {
		m := ahead(t, f, Plan{Crops: []Crop{c}}).Last().Eggs.Median
		require.Greater(t, m, last, c)
		last = m
	}
	// Great northern is not known: its band reaches over those of the others.
	b, k := ahead(t, f, Plan{Crops: []Crop{Black}}).Last().Eggs, ahead(t, f, Plan{Crops: []Crop{Kidney}}).Last().Eggs
	g := ahead(t, f, Plan{Crops: []Crop{GreatNorthern}}).Last().Eggs
	require.Greater(t, g.Median, b.Median)
	require.Less(t, g.Median, k.Median)
	require.Greater(t, math.Log(g.High80/g.Low80), math.Log(b.High80/b.Low80))
	require.Greater(t, math.Log(g.High80/g.Low80), math.Log(k.High80/k.Low80))
}

// Common practice, no source: a resistant soybean of a source long in use holds
// a usual count about level, and in turn with a non-host it falls; when new it
// brings the count down by about half (Chen and others 2001: 0.49).
func TestResistantSoybeanHoldsAndRotationLowers(t *testing.T) {
	old := map[Crop]int{PI88788: 20}
	m := ahead(t, Field{Counted(2000), old}, Plan{Crops: []Crop{PI88788}}).Last().Eggs.Median
	require.InDelta(t, 1, m/2000, 0.25)
	o := ahead(t, Field{Counted(4000), old}, Plan{Crops: times(3, NonHost, PI88788)})
	for i := 2; i < len(o.Years); i += 2 {
		require.Less(t, o.Years[i].Eggs.Median, o.Years[i-2].Eggs.Median)
	}
	fresh := ahead(t, Field{Start: Counted(5000)}, Plan{Crops: []Crop{PI88788}}).Last().Eggs.Median
	require.InDelta(t, 0.49, fresh/5000, 0.1)
}

// Harrison and Dorrance (Ohio): three to five times the eggs in five years of
// purple deadnettle.
func TestWinterWeeds(t *testing.T) {
	f := Field{Start: Counted(1000)}
	with := ahead(t, f, Plan{Crops: times(5, NonHost), Weeds: true}).Last().Eggs.Median
	without := ahead(t, f, Plan{Crops: times(5, NonHost)}).Last().Eggs.Median
	require.InDelta(t, 4, with/without, 1)
}

// Niblack, Baker and Norton 1992: losses of 52 % and 19 % at 1,250 eggs at
// planting. A plausibility band, not a fit.
func TestLossAt1250(t *testing.T) {
	m := Standard().prepare()
	y := m.yield(&ground{}, 1250, Susceptible)
	require.Greater(t, 1-y, 0.19)
	require.Less(t, 1-y, 0.52)
	require.Greater(t, m.yield(&ground{}, 1250, PI88788), y)
}

func TestUnderCutPoints(t *testing.T) {
	out, err := Ahead(Standard(), Field{Start: Between(200, 2000)}, []Plan{{Crops: []Crop{NonHost}}}, []assay.Density{200, 632.4555, 2000}, Options{Seed: 1})
	require.NoError(t, err)
	under := out[0].Years[0].Under
	require.Zero(t, under[0])
	require.InDelta(t, 0.5, under[1], 0.05, "the middle of 200 and 2,000 on a logarithmic scale")
	require.Equal(t, 1.0, under[2])
	require.Greater(t, out[0].Years[1].Under[1], 0.5)
}

func drawPlan(t *rapid.T) Plan {
	return Plan{
		Crops:      rapid.SliceOfN(rapid.SampledFrom(Crops), 1, MaxYears).Draw(t, "crops"),
		Weeds:      rapid.Bool().Draw(t, "weeds"),
		Volunteers: rapid.Bool().Draw(t, "volunteers"),
	}
}

func drawField(t *rapid.T) Field {
	return Field{
		Start: Counted(math.Exp(rapid.Float64Range(0, math.Log(MaxEggs)).Draw(t, "eggs"))),
		Grown: map[Crop]int{PI88788: rapid.IntRange(0, MaxGrown).Draw(t, "grown")},
	}
}

// drawSet moves the figures of the standard set, as a coordinator may.
func drawSet(t *rapid.T) Set {
	s := Standard()
	for _, r := range Rules {
		f := s.Figures[r.Key]
		by := rapid.Float64Range(0.7, 1.4).Draw(t, string(r.Key))
		low, mean, high := f.Low*by, f.Mean*by, f.High*by
		moved := Figure{low, mean, high, f.Source}
		if r.problem(moved) == "" {
			s.Figures[r.Key] = moved
		}
	}
	if s.Check() != nil {
		return Standard()
	}
	return s
}

// In one set a better host never lowers any quantile of any fall after it.
func TestABetterHostNeverLowers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		set, f, p := drawSet(t), drawField(t), drawPlan(t)
		p.Volunteers = false
		at := rapid.IntRange(0, len(p.Crops)-1).Draw(t, "year")
		better := rapid.SampledFrom(Crops).Draw(t, "better")
		if !set.Better(better, p.Crops[at]) {
			better = Susceptible
			if !set.Better(better, p.Crops[at]) {
				t.Skip("nothing is surely better than ", p.Crops[at])
			}
		}
		q := Plan{Crops: slices.Clone(p.Crops), Weeds: p.Weeds}
		q.Crops[at] = better
		out, err := Ahead(set, f, []Plan{p, q}, nil, Options{Seed: rapid.Uint64().Draw(t, "seed"), Draws: 200})
		require.NoError(t, err)
		for i := range out[0].Years {
			low, high := out[0].Years[i].Eggs, out[1].Years[i].Eggs
			for name, pair := range map[string][2]float64{"median": {low.Median, high.Median}, "low": {low.Low80, high.Low80}, "high": {low.High80, high.High80}} {
				require.GreaterOrEqual(t, pair[1], pair[0]*(1-1e-12), "%s of year %d", name, i)
			}
		}
	})
}

// Where winter weeds and volunteers are controlled a non-host year never raises
// a quantile.
func TestANonHostYearNeverRaises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		set, f, p := drawSet(t), drawField(t), drawPlan(t)
		p.Weeds, p.Volunteers = false, false
		out, err := Ahead(set, f, []Plan{p}, nil, Options{Seed: rapid.Uint64().Draw(t, "seed"), Draws: 200})
		require.NoError(t, err)
		for i, y := range out[0].Years[1:] {
			if y.Crop == NonHost || y.Crop == Fallow {
				before := out[0].Years[i].Eggs
				require.LessOrEqual(t, y.Eggs.Median, before.Median)
				require.LessOrEqual(t, y.Eggs.High80, before.High80)
			}
		}
	})
}

// Bands are in order, chances between 0 and 1, yields shares; and the same
// question has the same answer, whatever stands beside it.
func TestOutlooksAreWellFormed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, p, beside := drawField(t), drawPlan(t), drawPlan(t)
		o := Options{Seed: rapid.Uint64().Draw(t, "seed"), Draws: 100}
		cuts := []assay.Density{200, 2000, 12000}
		alone, err := Ahead(Standard(), f, []Plan{p}, cuts, o)
		require.NoError(t, err)
		two, err := Ahead(Standard(), f, []Plan{beside, p}, cuts, o)
		require.NoError(t, err)
		require.Equal(t, alone[0], two[1])
		require.Len(t, alone[0].Years, len(p.Crops)+1)
		for _, y := range alone[0].Years {
			require.True(t, slices.IsSorted([]float64{0, y.Eggs.Low80, y.Eggs.Low50, y.Eggs.Median, y.Eggs.High50, y.Eggs.High80}))
			require.True(t, slices.IsSorted(append([]float64{0}, append(y.Under, 1)...)))
			require.Equal(t, y.Crop.Soybean(), y.Yield != nil)
			if y.Yield != nil {
				require.True(t, slices.IsSorted([]float64{0, y.Yield.Low80, y.Yield.Low50, y.Yield.Median, y.Yield.High50, y.Yield.High80, 1}))
			}
		}
	})
}

func TestAheadRefuses(t *testing.T) {
	good := Field{Start: Counted(100)}
	plan := []Plan{{Crops: []Crop{NonHost}}}
	for name, do := range map[string]func() ([]Outlook, error){
		"no plan":    func() ([]Outlook, error) { return Ahead(Standard(), good, nil, nil, Options{}) },
		"five plans": func() ([]Outlook, error) { return Ahead(Standard(), good, make([]Plan, 5), nil, Options{}) },
		"no year":    func() ([]Outlook, error) { return Ahead(Standard(), good, []Plan{{}}, nil, Options{}) },
		"seven years": func() ([]Outlook, error) {
			return Ahead(Standard(), good, []Plan{{Crops: times(7, NonHost)}}, nil, Options{})
		},
		"rice": func() ([]Outlook, error) {
			return Ahead(Standard(), good, []Plan{{Crops: []Crop{"rice"}}}, nil, Options{})
		},
		"no eggs": func() ([]Outlook, error) { return Ahead(Standard(), Field{}, plan, nil, Options{}) },
		"nan": func() ([]Outlook, error) {
			return Ahead(Standard(), Field{Start: Counted(math.NaN())}, plan, nil, Options{})
		},
		"grown": func() ([]Outlook, error) {
			return Ahead(Standard(), Field{Counted(9), map[Crop]int{NonHost: 1}}, plan, nil, Options{})
		},
		"draws": func() ([]Outlook, error) { return Ahead(Standard(), good, plan, nil, Options{Draws: MaxDraws + 1}) },
	} {
		t.Run(name, func(t *testing.T) {
			_, err := do()
			require.ErrorIs(t, err, ErrImpossible)
		})
	}
	_, err := Ahead(Set{}, good, plan, nil, Options{})
	var invalid *Invalid
	require.ErrorAs(t, err, &invalid)
}

func TestStandardSetStands(t *testing.T) {
	s := Standard()
	require.NoError(t, s.Check())
	require.Len(t, s.Figures, len(Rules))
}

// A set that was stored before a host was known takes that host as the program
// does, and keeps its own figures.
func TestSetIsCompleted(t *testing.T) {
	old := Standard()
	delete(old.Figures, Key(Black))
	old.Figures[Winter] = Figure{0.7, 0.85, 1, "a trial"}
	require.Error(t, old.Check())
	now := old.Completed()
	require.NoError(t, now.Check())
	require.Equal(t, Standard().Figures[Key(Black)], now.Figures[Key(Black)])
	require.Equal(t, "a trial", now.Figures[Winter].Source)
	require.NotContains(t, old.Figures, Key(Black), "the set that was given stays as it is")
}

// A host that the model does not know would be taken for a non-host, and would
// lower the count.
func TestHostsAreNotTakenForNonHosts(t *testing.T) {
	f := Field{Start: Counted(500)}
	non := ahead(t, f, Plan{Crops: []Crop{NonHost}}).Last().Eggs
	for _, c := range Crops {
		if c == NonHost || c == Fallow {
			continue
		}
		require.NotEqual(t, non, ahead(t, f, Plan{Crops: []Crop{c}}).Last().Eggs,
			"%s: is it in ranked (crop.go), or in harvest (model.go)?", c)
	}
}

func TestSetCheck(t *testing.T) {
	tests := map[string]struct {
		key  Key
		f    Figure
		want Problem
	}{
		"a non-host that multiplies": {AfterNonHost, Figure{0.5, 0.9, 1.2, "x"}, OutOfRange},
		"a rising winter":            {Winter, Figure{0.5, 1, 1.5, "x"}, OutOfRange},
		"upside down":                {AfterSoybean, Figure{5, 3, 9, "x"}, OutOfOrder},
		"two numbers for one":        {HatchShare, Figure{0.2, 0.3, 0.4, "x"}, OutOfOrder},
		"no source":                  {AfterSoybean, Figure{1, 3, 9, " "}, NoSource},
		"a mean at the end":          {AfterSoybean, Figure{1, 1.01, 9, "x"}, Lopsided},
		"not a number":               {AfterSoybean, Figure{1, math.NaN(), 9, "x"}, OutOfRange},
		"soybean under corn":         {AfterSoybean, Figure{0.1, 0.4, 0.7, "x"}, BelowNonHost},
		"a source above susceptible": {AfterPeking, Figure{1, 5, 9, "x"}, AboveSoybean},
		"a long source":              {AfterSoybean, Figure{1, 3, 9, strings.Repeat("x", MaxText+1)}, TooLong},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			s := Standard()
			s.Figures[tt.key] = tt.f
			var invalid *Invalid
			require.ErrorAs(t, s.Check(), &invalid)
			require.Equal(t, tt.want, invalid.Fields[string(tt.key)], invalid.Error())
		})
	}
	for _, name := range []string{"", "Upper", "a b", "-a", strings.Repeat("a", 41)} {
		s := Standard()
		s.Name = name
		require.Error(t, s.Check(), name)
	}
}

// Four rotations of six years in 2,000 draws: what a page takes.
func BenchmarkAhead(b *testing.B) {
	plans := []Plan{
		{Crops: times(3, NonHost, PI88788)}, {Crops: times(3, NonHost, Susceptible)},
		{Crops: times(6, Susceptible)}, {Crops: []Crop{NonHost, PI88788, NonHost, Peking, Kidney, Susceptible}, Weeds: true, Volunteers: true},
	}
	f := Field{Counted(2100), map[Crop]int{PI88788: 20}}
	for b.Loop() {
		if _, err := Ahead(Standard(), f, plans, []assay.Density{200, 2000, 12000}, Options{Seed: 6}); err != nil {
			b.Fatal(err)
		}
	}
}

func ExampleMultiply() {
	fmt.Printf("%.2f\n", Multiply(100, 20, 20000, 0))
	// Output: 1903.25
}
