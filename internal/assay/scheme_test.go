package assay_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/stat"
)

// Published cut points (read): ISU IPM 63, rev. April 2008, both columns;
// Minnesota Soybean, Table 1; OSU C.O.R.N. 2015-34; MU egg count
// recommendations per 250 cm³, times 0.4. A cyst was seen in every bag here, so
// that the density alone decides.
func TestPresetCutPoints(t *testing.T) {
	tests := []struct {
		scheme string
		edges  map[assay.Density]string
	}{
		{assay.SchemeISUSoybeanNext, map[assay.Density]string{
			1: "low", 200: "low", 201: "low", 2000: "low", 2001: "moderate", 12000: "moderate", 12001: "high", 900000: "high"}},
		{assay.SchemeISUSoybeanNotNext, map[assay.Density]string{
			1: "low", 4000: "low", 4001: "moderate", 16000: "moderate", 16001: "high"}},
		{assay.SchemeMinnesota, map[assay.Density]string{
			1: "very_low", 200: "very_low", 201: "low_to_moderate", 2000: "low_to_moderate",
			2001: "moderate_to_high", 10000: "moderate_to_high", 10001: "very_high"}},
		{assay.SchemeOhio, map[assay.Density]string{
			40: "trace", 41: "trace", 200: "trace", 201: "low", 2000: "low", 2001: "moderate", 5000: "moderate", 5001: "high"}},
		{assay.SchemeMissouri, map[assay.Density]string{
			200: "low", 201: "moderate", 800: "moderate", 801: "upper_moderate", 4000: "upper_moderate", 4001: "high"}},
	}
	require.Len(t, assay.Presets(), len(tests))
	for _, tt := range tests {
		t.Run(tt.scheme, func(t *testing.T) {
			s, ok := assay.Preset(tt.scheme)
			require.True(t, ok)
			require.NoError(t, s.Check())
			for d, want := range tt.edges {
				got := s.Class(assay.Reading{Basis: assay.Reported, Density: d, CystSeen: true})
				require.Equal(t, want, got.Name, "density %v", d)
				require.Equal(t, assay.Found, got.Kind)
			}
		})
	}
	_, ok := assay.Preset("no_such_scheme")
	require.False(t, ok)
	require.Equal(t, assay.SchemeISUSoybeanNext, assay.DefaultScheme().Key)
}

// MU prints its cut points per cup of 250 cm³; a report in that unit must meet
// them where they are printed.
func TestMissouriInCups(t *testing.T) {
	s, _ := assay.Preset(assay.SchemeMissouri)
	for cup, want := range map[float64]string{
		500: "low", 501: "moderate", 2000: "moderate", 2001: "upper_moderate", 10000: "upper_moderate", 10001: "high",
	} {
		r, err := assay.Report{Value: cup, Unit: assay.Per250CM3, CystSeen: true}.Reading()
		require.NoError(t, err)
		require.Equal(t, want, s.Class(r).Name, "%v in a cup", cup)
	}
}

// The rules of what is none, unconfirmed and found are the program's own.
func TestClassRules(t *testing.T) {
	eggs := func(n int, cyst bool) assay.Reading {
		m := assay.DefaultMethod()
		c := m.Count(n)
		c.CystSeen = cyst
		r, err := c.Density(m)
		require.NoError(t, err)
		return r
	}
	reported := func(d assay.Density, cyst bool) assay.Reading {
		return assay.Reading{Basis: assay.Reported, Density: d, CystSeen: cyst}
	}
	// One egg at 1 mL of 500 mL stands for 500: few eggs, not a low density.
	coarse, err := assay.NewMethod("coarse", 100, 500, 1).Count(4).Density(assay.DefaultMethod())
	require.NoError(t, err)
	// Five eggs with all of the suspension looked at: many eggs, at a trace.
	fine, err := assay.NewMethod("fine", 100, 100, 100).Count(5).Density(assay.DefaultMethod())
	require.NoError(t, err)

	tests := []struct {
		name    string
		reading assay.Reading
		rank    int
		class   string
	}{
		{"nothing seen", eggs(0, false), 0, "none"},
		{"nothing but a cyst", eggs(0, true), 1, "unconfirmed"},
		{"nothing but juveniles", assay.Reading{Basis: assay.Counted, JuvenilesSeen: true}, 1, "unconfirmed"},
		{"one egg", eggs(1, false), 1, "unconfirmed"},
		{"four eggs", eggs(4, false), 1, "unconfirmed"},
		{"five eggs", eggs(5, false), 2, "low"},
		{"one egg and a cyst", eggs(1, true), 2, "low"},
		{"few eggs at a high density", coarse, 1, "unconfirmed"},
		{"more eggs at a trace", fine, 1, "unconfirmed"},
		{"forty eggs", eggs(40, false), 2, "low"},
		{"forty-one eggs", eggs(41, false), 3, "moderate"},
		{"reported nothing", reported(0, false), 0, "none"},
		{"reported nothing but a cyst", reported(0, true), 1, "unconfirmed"},
		{"reported at trace", reported(200, false), 1, "unconfirmed"},
		{"reported at trace with a cyst", reported(200, true), 2, "low"},
		{"reported over trace", reported(201, false), 2, "low"},
		{"cysts looked for, none", assay.CystLook(false), 0, "none"},
		{"cysts looked for, seen", assay.CystLook(true), 1, "unconfirmed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := assay.DefaultScheme().Class(tt.reading)
			require.Equal(t, tt.class, got.Name)
			require.Equal(t, tt.rank, got.Rank)
		})
	}
}

// Three portions of 0.7 mL add up to a hair under 2.1, and 42 eggs in them to a
// hair over 2,000: the figure belongs with 2,000 all the same.
func TestClassForgivesTheLastDigits(t *testing.T) {
	c := assay.Count{SoilCM3: 100, SuspensionML: 100}
	for range 3 {
		c.Aliquots = append(c.Aliquots, assay.Aliquot{ML: 0.7, Eggs: 14})
	}
	r, err := c.Density(assay.DefaultMethod())
	require.NoError(t, err)
	require.Greater(t, r.Density, assay.Density(2000))
	require.InDelta(t, 2000, float64(r.Density), 1e-6)
	require.Equal(t, "low", assay.DefaultScheme().Class(r).Name)
}

func TestClassOfNonsense(t *testing.T) {
	s := assay.DefaultScheme()
	for _, r := range []assay.Reading{
		{},
		{Density: 500},
		{Basis: assay.Reported, Density: -1},
		{Basis: assay.Reported, Density: assay.Density(math.NaN())},
		{Basis: assay.Reported, Density: assay.Density(math.Inf(1))},
		{Basis: assay.Counted, Eggs: -1},
	} {
		require.Equal(t, assay.Class{}, s.Class(r), "%+v", r)
	}
	require.Empty(t, assay.Class{}.Kind.String())
	require.Equal(t, assay.Class{}, assay.Scheme{}.Class(assay.Reading{Basis: assay.Counted}))
}

func TestKindKeys(t *testing.T) {
	require.Equal(t, "none", assay.None.String())
	require.Equal(t, "unconfirmed", assay.Unconfirmed.String())
	require.Equal(t, "found", assay.Found.String())
}

func TestRange(t *testing.T) {
	m, s := assay.DefaultMethod(), assay.DefaultScheme()
	r, err := m.Count(35).Density(m) // 1750; limits about 1,219 to 2,434
	require.NoError(t, err)
	low, high, known := s.Range(r)
	require.True(t, known)
	require.Equal(t, []string{"low", "moderate"}, []string{low.Name, high.Name})

	_, _, known = s.Range(assay.Reading{Basis: assay.Reported, Density: 5000})
	require.False(t, known, "limits of a reported density are not known")
	few, err := m.Count(2).Density(m)
	require.NoError(t, err)
	_, _, known = s.Range(few)
	require.False(t, known, "an unconfirmed reading has no level")
}

func TestClassProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(assay.Presets()).Draw(t, "scheme")
		cyst := rapid.Bool().Draw(t, "cyst")
		a := assay.Density(rapid.Float64Range(0, 30000).Draw(t, "a"))
		b := a + assay.Density(rapid.Float64Range(0, 3000).Draw(t, "more"))
		at := func(d assay.Density) assay.Class {
			return s.Class(assay.Reading{Basis: assay.Reported, Density: d, CystSeen: cyst})
		}
		require.LessOrEqual(t, at(a).Rank, at(b).Rank, "a class falls from %v to %v", a, b)
		require.Equal(t, s.Classes[at(a).Rank], at(a))
		require.Equal(t, a == 0 && !cyst, at(a).Kind == assay.None)
		if a > s.Trace {
			require.Equal(t, assay.Found, at(a).Kind)
			require.LessOrEqual(t, a, at(a).Upper*(1+1e-9))
		}

		m := drawMethod(t)
		r, err := drawCount(t, 300).Density(m)
		require.NoError(t, err)
		if low, high, known := s.Range(r); known {
			require.LessOrEqual(t, low.Rank, s.Class(r).Rank)
			require.GreaterOrEqual(t, high.Rank, s.Class(r).Rank)
		}
	})
}

func TestSchemeFits(t *testing.T) {
	s := assay.DefaultScheme()
	require.True(t, s.Fits(assay.DefaultMethod()))
	require.False(t, s.Fits(assay.NewMethod("another", 100, 100, 2)))
	s.Methods = nil
	require.True(t, s.Fits(assay.NewMethod("another", 100, 100, 2)))
}

func TestPresetsAreMadeAnew(t *testing.T) {
	s := assay.DefaultScheme()
	s.Classes[2].Upper, s.Methods[0] = 5, "spoiled"
	require.Equal(t, assay.Density(2000), assay.DefaultScheme().Classes[2].Upper)
	require.Equal(t, assay.MethodSoil100, assay.DefaultScheme().Methods[0])
}

func TestSchemeCheck(t *testing.T) {
	tests := []struct {
		name   string
		change func(*assay.Scheme)
		field  string
		want   assay.Problem
	}{
		{"no key", func(s *assay.Scheme) { s.Key = "" }, "key", assay.Missing},
		{"a key without end", func(s *assay.Scheme) { s.Key = strings.Repeat("a", 65) }, "key", assay.TooLarge},
		{"cut point at zero", func(s *assay.Scheme) {
			s.Trace, s.Classes[1].Upper, s.Classes[2].Upper = 0, 0, 0
		}, "classes.2.upper", assay.NotPositive},
		{"key with a space", func(s *assay.Scheme) { s.Key = "soybean next" }, "key", assay.NotKey},
		{"version 0", func(s *assay.Scheme) { s.Version = 0 }, "version", assay.NotPositive},
		{"no title", func(s *assay.Scheme) { s.Title = "" }, "title", assay.Missing},
		{"no source", func(s *assay.Scheme) { s.Source = "" }, "source", assay.Missing},
		{"trace negative", func(s *assay.Scheme) { s.Trace, s.Classes[1].Upper = -1, -1 }, "trace", assay.Negative},
		{"trace over the first cut", func(s *assay.Scheme) { s.Trace, s.Classes[1].Upper = 2001, 2001 }, "trace", assay.TraceAboveFirst},
		{"unconfirmed does not end at trace", func(s *assay.Scheme) { s.Classes[1].Upper = 100 }, "classes.1.upper", assay.OutOfOrder},
		{"none does not end at zero", func(s *assay.Scheme) { s.Classes[0].Upper = 40 }, "classes.0.upper", assay.OutOfOrder},
		{"cut points fall", func(s *assay.Scheme) { s.Classes[3].Upper = 1999 }, "classes.3.upper", assay.OutOfOrder},
		{"cut points stand still", func(s *assay.Scheme) { s.Classes[3].Upper = 2000 }, "classes.3.upper", assay.OutOfOrder},
		{"cut point not a number", func(s *assay.Scheme) { s.Classes[3].Upper = assay.Density(math.NaN()) }, "classes.3.upper", assay.NotFinite},
		{"last class closed", func(s *assay.Scheme) { s.Classes[4].Upper = 50000 }, "classes.4.upper", assay.OpenEnd},
		{"open class in the middle", func(s *assay.Scheme) { s.Classes[3].Upper = assay.Density(math.Inf(1)) }, "classes.3.upper", assay.OpenEnd},
		{"the same name twice", func(s *assay.Scheme) { s.Classes[3].Name = "low" }, "classes.3.name", assay.Doubled},
		{"rank skipped", func(s *assay.Scheme) { s.Classes[4].Rank = 7 }, "classes.4.rank", assay.OutOfOrder},
		{"found in the place of unconfirmed", func(s *assay.Scheme) { s.Classes[1].Kind = assay.Found }, "classes.1.kind", assay.WrongKind},
		{"no found class", func(s *assay.Scheme) { s.Classes = s.Classes[:2] }, "classes", assay.NoFoundClass},
		{"more classes than lines", func(s *assay.Scheme) {
			last := s.Classes[4]
			s.Classes = s.Classes[:4:4]
			for i, name := range []string{"a", "b", "c"} {
				s.Classes = append(s.Classes, assay.Class{Rank: 4 + i, Name: name, Upper: assay.Density(20000 + 1000*i), Kind: assay.Found})
			}
			last.Rank = 7
			s.Classes = append(s.Classes, last)
		}, "classes", assay.TooMany},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := assay.DefaultScheme()
			tt.change(&s)
			var invalid *assay.Invalid
			require.ErrorAs(t, s.Check(), &invalid)
			require.Equal(t, tt.want, invalid.Fields[tt.field], "%v", invalid)
		})
	}
}

// The limits of a count and of what it is scaled to are one thing.
func TestLimitsAreThoseOfTheCount(t *testing.T) {
	m := assay.DefaultMethod()
	r, err := m.Count(17).Density(m)
	require.NoError(t, err)
	slide, err := stat.Poisson(17, stat.Confidence)
	require.NoError(t, err)
	require.InDelta(t, slide.Low*50, r.Limits.Low, 1e-9)
	require.InDelta(t, slide.High*50, r.Limits.High, 1e-9)
}
