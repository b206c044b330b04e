package edition_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/place"
)

// twoTranches is a township of three senders and one of five, counted.
func twoTranches(t *testing.T, fullFrom int) []edition.Tranche {
	t.Helper()
	b := new(bags).add(2, 1, 2026, earlier, 2).add(2, 2, 2026, first, 1).add(2, 3, 2026, earlier, 1)
	for n := range 5 {
		b.add(1, 10+n, 2026, first, 1)
	}
	r := edition.DefaultRules()
	r.FullClassesFrom = fullFrom
	p, err := edition.Gather(r, land(t, 1, 18), edition.History{}, cut(2026), b.made)
	require.NoError(t, err)
	rank := map[edition.SampleID]int{}
	for i, p := range b.made {
		rank[p.Sample] = []int{4, 0, 1, 2, 0, 0, 3, 1, 1}[i]
	}
	out, err := p.Count(r, 7, ranks, func(s edition.SampleID) int { return rank[s] })
	require.NoError(t, err)
	return out
}

func TestCount(t *testing.T) {
	now := edition.Window{ThisFall: true, Through: 2026}
	five := edition.Tranche{ID: 1, Edition: 7, County: 1, Kind: edition.KindTownship, Places: []place.ID{101},
		Senders: 3, Samples: 5, Window: now, Counts: []int{2, 2, 0, 1, 0}}
	three := edition.Tranche{ID: 2, Edition: 7, County: 1, Kind: edition.KindTownship, Places: []place.ID{102},
		Senders: 3, Samples: 4, Window: now, Counts: []int{1, 1, 1, 0, 1}}
	require.Equal(t, []edition.Tranche{five, three}, twoTranches(t, 0))
	require.Equal(t, []edition.Tranche{five, three}, twoTranches(t, 3))
	three.Coarse, three.Counts = true, []int{1, 1, 2}
	require.Equal(t, []edition.Tranche{five, three}, twoTranches(t, 5), "rule 7: under five senders no levels")
}

func TestCountRefuses(t *testing.T) {
	p := edition.Plan{Tranches: []edition.Draft{{Senders: 3, Floor: 3, Members: make([]edition.SampleID, 3)}}}
	_, err := p.Count(edition.DefaultRules(), 1, ranks, func(edition.SampleID) int { return 5 })
	require.ErrorIs(t, err, edition.ErrCount, "a rank the scheme does not have")
	p.Tranches[0].Senders = 2
	_, err = p.Count(edition.DefaultRules(), 1, ranks, func(edition.SampleID) int { return 0 })
	require.ErrorIs(t, err, edition.ErrCount, "a draft under its floor")
	for _, wrong := range []edition.Ranks{
		{}, {edition.ClassNone}, {edition.ClassFound}, {edition.ClassFound, edition.ClassNone},
		{edition.ClassNone, edition.ClassNone, edition.ClassFound}, {edition.ClassNone, "maybe", edition.ClassFound},
	} {
		_, err = p.Count(edition.DefaultRules(), 1, wrong, func(edition.SampleID) int { return 0 })
		require.ErrorIs(t, err, edition.ErrRanks, "%v", wrong)
	}
}

func TestFigures(t *testing.T) {
	for _, c := range []struct {
		name              string
		full, coarse      []int
		none, unsure, yes int
		highest           int
		exact             bool
		typical           int
		known             bool
	}{
		{"nothing", nil, nil, 0, 0, 0, -1, true, -1, false},
		{"none found", []int{4, 0, 0, 0, 0}, nil, 4, 0, 0, 0, true, 0, true},
		{"unconfirmed is not found", []int{2, 1, 0, 0, 0}, nil, 2, 1, 0, 1, true, 0, true},
		{"levels", []int{2, 0, 1, 3, 1}, nil, 2, 0, 5, 4, true, 3, true},
		{"lower of two middles", []int{1, 0, 1, 1, 1}, nil, 1, 0, 3, 4, true, 2, true},
		{"finds of no level", nil, []int{3, 0, 1}, 3, 0, 1, 2, false, 0, true},
		{"the middle among them", []int{1, 0, 0, 1, 0}, []int{0, 0, 3}, 1, 0, 4, 3, false, -1, false},
		{"highest of all anyway", []int{0, 0, 0, 0, 1}, []int{4, 0, 1}, 4, 0, 2, 4, true, 0, true},
		{"unconfirmed of a small one", nil, []int{1, 2, 0}, 1, 2, 0, 1, true, 1, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			var ts []edition.Tranche
			total := 0
			for _, counts := range [][]int{c.full, c.coarse} {
				if counts == nil {
					continue
				}
				n := 0
				for _, v := range counts {
					n += v
				}
				total += n
				ts = append(ts, edition.Tranche{Samples: n, Counts: counts, Coarse: len(counts) == 3})
			}
			f, err := edition.Sum(ranks, ts...)
			require.NoError(t, err)
			require.Equal(t, []int{total, c.none, c.unsure, c.yes, c.none + c.yes},
				[]int{f.Samples, f.None, f.Unconfirmed, f.Finds, f.Judged()})
			rank, exact := f.Highest()
			require.Equal(t, c.highest, rank)
			require.Equal(t, c.exact, exact)
			rank, known := f.Typical()
			require.Equal(t, c.typical, rank)
			require.Equal(t, c.known, known)
		})
	}
	_, err := edition.Sum(ranks, edition.Tranche{Counts: []int{1, 2}})
	require.ErrorIs(t, err, edition.ErrMixed)
}

func TestChoices(t *testing.T) {
	ts := append(twoTranches(t, 0), edition.Tranche{County: 1, Kind: edition.KindDistrict,
		Places: []place.ID{101, 102, 103}, Window: edition.Window{Through: 2024}})
	require.Len(t, edition.OfTownship(ts, 101), 1)
	require.Len(t, edition.OfCounty(ts, 1), 3)
	require.Empty(t, edition.OfCounty(ts, 2))
	require.Len(t, edition.OfFall(ts, 2026), 2)
	require.Len(t, edition.Since(ts, 2025), 2)
	require.Equal(t, []place.ID{101, 102}, edition.TownshipsShown(ts))
}

const canonical = `sixmile edition 1
number 7
kind release
season 2026
cutoff 2026-12-31
released 2027-01-15
k 3
scheme 2
ranks none unconfirmed found found found
cuts 200 2000
boundaries 0100000000000000000000000000000000000000000000000000000000000000
previous 0000000000000000000000000000000000000000000000000000000000000000
tranche 1 county 1 township 101 senders 3 samples 5 fall 2026 counts 2 2 0 1 0
tranche 2 county 1 township 102 senders 3 samples 4 fall 2026 coarse 1 1 2
fall 1 season 2026 samples 25 finds 5 highest -
fall 2 season 2026 samples 10 finds 0 highest 0
end
`

func TestCanonical(t *testing.T) {
	m := edition.Meta{Number: 7, Kind: edition.Release, Season: 2026, K: 3, Scheme: 2, Ranks: ranks, Cuts: []float64{200, 2000}, Boundaries: [32]byte{1},
		Cutoff: time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC), Released: cut(2026).Day}
	ts := twoTranches(t, 5)
	falls := []edition.FallFigure{
		{County: 2, Season: 2026, Samples: 10}, {County: 1, Season: 2026, Samples: 25, Finds: 5, Highest: edition.NotTold}}
	require.Equal(t, canonical, string(edition.Canonical(m, ts, falls)))
	ts[0], ts[1] = ts[1], ts[0]
	require.Equal(t, canonical, string(edition.Canonical(m, ts, falls)), "the order given changes nothing")

	e, err := attack.Read([]byte(canonical))
	require.NoError(t, err)
	require.Len(t, e.Tranches, 2)
	require.Len(t, e.Falls, 2)
	require.Empty(t, attack.Try(attack.Public{Editions: []attack.Edition{e}, Map: mapOf(2, 18)}))
}

// SHA-256 of "abc": FIPS 180-4's example, as in NIST's published vectors (from
// memory).
func TestDigestAndCode(t *testing.T) {
	d := edition.Digest([]byte("abc"))
	require.True(t, bytes.HasPrefix(d[:], []byte{0xba, 0x78, 0x16, 0xbf, 0x8f, 0x01, 0xcf, 0xea}))
	require.Equal(t, "2222-22", edition.Code([32]byte{}))
	require.Equal(t, "3222-22", edition.Code([32]byte{7: 1}))
	require.Equal(t, "2322-22", edition.Code([32]byte{7: 31}))
	seen := map[string]bool{}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SliceOfN(rapid.Byte(), 1, 20).Draw(t, "text")
		code := edition.Code(edition.Digest(text))
		require.Regexp(t, `^[2-9A-HJKMNP-Z]{4}-[2-9A-HJKMNP-Z]{2}$`, code)
		require.False(t, strings.ContainsAny(code, "01OIL"))
		seen[code] = true
	})
	require.Greater(t, len(seen), 50)
}

func TestAbout(t *testing.T) {
	for _, c := range []struct{ n, atLeast, want int }{
		{5, 5, 10}, {7, 5, 10}, {8, 5, 10}, {12, 5, 10}, {13, 5, 15}, // the floor of five is known
		{8, 8, 10}, {9, 9, 15}, {12, 9, 15}, {17, 12, 15}, {12, 12, 15}, {18, 12, 20},
		{0, 0, 5}, {7, 0, 5}, {8, 0, 10}, {1, 1, 5},
	} {
		require.Equal(t, c.want, edition.About(c.n, c.atLeast), "%d, at least %d", c.n, c.atLeast)
	}
	for least := range 200 {
		width := map[int]int{}
		for n := least; n < 300; n++ {
			width[edition.About(n, least)]++
			require.Equal(t, attack.AboutFive(n, least), edition.About(n, least), "the attacker's own reading of the rule")
			require.LessOrEqual(t, edition.About(n, least)-n, 5+2)
			from, to := edition.Behind(edition.About(n, least))
			require.True(t, from <= n && n <= to, "%d, at least %d, is told as %d: %d to %d", n, least, edition.About(n, least), from, to)
		}
		for v, w := range width {
			require.True(t, w >= 5 || v >= 300-2, "%d stands for %d numbers from %d", v, w, least)
		}
	}
}

// What pages say of a figure: none is none, five is "seven or fewer" (0 to 7, by the
// rule of TestAbout), ten is 4 to 12. Each end comes about.
func TestBehind(t *testing.T) {
	for figure, want := range map[int][2]int{0: {0, 0}, 5: {0, 7}, 10: {4, 12}, 15: {9, 17}, 200: {194, 202}} {
		from, to := edition.Behind(figure)
		require.Equal(t, want, [2]int{from, to}, "%d", figure)
		if figure == 0 {
			continue
		}
		require.Equal(t, figure, edition.About(from, from))
		require.Equal(t, figure, edition.About(to, 0))
		require.NotEqual(t, figure, edition.About(to+1, 0))
	}
}

func TestFallFigures(t *testing.T) {
	make1 := func(senders, shown int, rank func(i int) int) []edition.FallSample {
		var out []edition.FallSample
		for i := range senders {
			out = append(out, edition.FallSample{County: 1, Season: 2026, Sender: senderID(i), Standing: first,
				Rank: rank(i), Found: rank(i) >= 2, Waiting: i >= shown})
		}
		return out
	}
	shown := func(n, finds int) []edition.Tranche {
		return []edition.Tranche{{County: 1, Kind: edition.KindTownship, Places: []place.ID{101}, Senders: 3, Samples: n,
			Window: edition.Window{ThisFall: true, Through: 2026}, Counts: []int{n - finds, 0, finds, 0, 0}}}
	}
	ranked := func(i int) int { return i % 5 }
	none := func(int) int { return 0 }
	for _, c := range []struct {
		name     string
		samples  []edition.FallSample
		released []edition.Tranche
		want     []edition.FallFigure
	}{
		{"four senders: nothing", make1(4, 0, ranked), nil, nil},
		{"the first January: all wait", make1(12, 0, ranked), nil, []edition.FallFigure{{1, 2026, 10, 5, 4}}},
		{"all wait, none found", make1(12, 0, none), nil, []edition.FallFigure{{1, 2026, 10, 0, 0}}},
		{"few wait: no highest level, and no exact zero", make1(12, 8, none), shown(8, 0),
			[]edition.FallFigure{{1, 2026, 10, 5, edition.NotTold}}},
		{"nearly all on the map: a step up", make1(12, 12, ranked), shown(12, 5),
			[]edition.FallFigure{{1, 2026, 15, 10, edition.NotTold}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, edition.FallFigures(edition.DefaultRules(), ranks, c.samples, c.released))
		})
	}
	blank := make1(12, 0, ranked)
	for i := range blank {
		blank[i].Standing = already
	}
	require.Empty(t, edition.FallFigures(edition.DefaultRules(), ranks, blank, nil), "blank taps may all be one farm")
}

// The store refuses more finds than samples; rounding must never print them.
func TestAboutFindsNeverExceedSamples(t *testing.T) {
	for n := 5; n < 40; n++ {
		for shown := 0; shown <= n; shown++ {
			samples := edition.About(n, max(shown, 5))
			for finds := 0; finds <= n; finds++ {
				for shownFinds := max(0, shown-(n-finds)); shownFinds <= min(shown, finds); shownFinds++ {
					if edition.About(finds, max(shownFinds, 1)) > samples || edition.About(finds, shownFinds) > samples {
						t.Fatalf("%d samples, %d shown, %d finds, %d shown", n, shown, finds, shownFinds)
					}
				}
			}
		}
	}
}
