package edition_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/place"
)

func TestCutsFit(t *testing.T) {
	for _, c := range []struct {
		name string
		cuts []float64
		fit  bool
	}{
		{"none", nil, true},
		{"one table", []float64{200, 2000, 12000}, true},
		{"the same limit of trace twice", []float64{200, 2000, 12000, 200, 5000}, true},
		{"one cut, computed two ways", []float64{200, 2000, 0.1 * 3 * 10000 / 1.5}, true},
		{"half as far again", []float64{200, 2000, 12000, 200, 4000.1, 16000}, false},
		{"exactly double", []float64{200, 2000, 4000}, false},
		{"a little more than double", []float64{200, 2000, 4001}, true},
		{"eight", []float64{1, 3, 9, 27, 81, 243, 729, 2187}, true},
		{"nine", []float64{1, 3, 9, 27, 81, 243, 729, 2187, 6561}, false},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.fit, edition.CutsFit(c.cuts...)) })
	}
}

// three is a township's tranche of the senders 1, 2, 3 with two bags each, as
// published with the ranks 0 0 0 0 2 4.
func three() (edition.Tranche, edition.Back, []int) {
	b := new(bags).add(1, 1, 2025, first, 2).add(1, 2, 2025, earlier, 2).add(1, 3, 2025, earlier, 2)
	t := edition.Tranche{ID: 1, Edition: 1, County: 1, Kind: edition.KindTownship, Places: []place.ID{101}, Senders: 3, Samples: 6,
		Window: edition.Window{ThisFall: true, Through: 2025}, Counts: []int{4, 0, 1, 0, 1}}
	var held []edition.Held
	for _, p := range b.made {
		held = append(held, edition.Held{Pending: p})
	}
	return t, edition.BackOf(t, true, held), []int{0, 0, 0, 0, 2, 4}
}

func TestAmend(t *testing.T) {
	for _, c := range []struct {
		name   string
		now    []int
		change func(*edition.Back)
		before [][]int
		want   []int // nil: refused
	}{
		{"three senders' results move", []int{2, 0, 2, 0, 2, 2}, nil, nil, []int{2, 0, 4, 0, 0}},
		{"one typo", []int{0, 0, 0, 0, 2, 2}, nil, nil, nil},
		{"three results of two senders", []int{2, 2, 2, 0, 2, 4}, nil, nil, nil},
		{"three senders trade places", []int{2, 0, 4, 0, 0, 0}, nil, nil, nil},
		{"nothing mended", []int{2, 0, 2, 0, 2, 2}, func(b *edition.Back) { b.Mended = false }, nil, nil},
		{"a result not signed", []int{2, 0, 2, 0, 2, 2}, func(b *edition.Back) { b.Members[1].Counted = false }, nil, nil},
		{"too like an older table", []int{2, 0, 2, 0, 2, 2}, nil, [][]int{{3, 0, 3, 0, 0}}, nil},
		{"one void bag", []int{0, 0, 0, 0, 2, 4}, func(b *edition.Back) { b.Members[5].Gone = true }, nil, nil},
		{"a bag of each void", []int{0, 0, 0, 0, 2, 4}, func(b *edition.Back) {
			b.Members[0].Gone, b.Members[2].Gone, b.Members[5].Gone = true, true, true
		}, nil, []int{2, 0, 1, 0, 0}},
		{"a sender gone whole", []int{2, 2, 2, 2, 2, 4}, func(b *edition.Back) { b.Members[4].Gone, b.Members[5].Gone = true, true }, nil, nil},
		{"senders no longer known", []int{2, 0, 2, 0, 2, 2}, func(b *edition.Back) {
			for i := range b.Members {
				b.Members[i].Sender = edition.NoSender
			}
		}, nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr, back, was := three()
			if c.change != nil {
				c.change(&back)
			}
			rank := func(of []int) func(edition.SampleID) int {
				return func(id edition.SampleID) int {
					for i, m := range back.Members {
						if m.Sample == id {
							return of[i]
						}
					}
					return -1
				}
			}
			got, err := edition.Amend(edition.DefaultRules(), ranks, tr, back, append([][]int{tr.Counts}, c.before...), rank(was), rank(c.now))
			if c.want == nil {
				require.ErrorIs(t, err, edition.ErrErratum)
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.want, got.Counts)
		})
	}
}

func TestRejoin(t *testing.T) {
	for _, c := range []struct {
		name   string
		new    *bags
		change func(*edition.Back)
		reason edition.Reason // "": it comes out again
	}{
		{"three new senders", new(bags).add(1, 11, 2026, first, 1).add(1, 12, 2026, first, 1).add(1, 13, 2026, earlier, 1), nil, ""},
		{"one of them was in it", new(bags).add(1, 11, 2026, first, 1).add(1, 12, 2026, first, 1).add(1, 3, 2026, earlier, 1), nil, edition.BackTooFew},
		{"as many drop out as come", new(bags).add(1, 11, 2026, first, 1).add(1, 12, 2026, first, 1).add(1, 13, 2026, earlier, 1),
			func(b *edition.Back) { b.Members[0].Gone = true }, edition.BackTooFew},
		{"one more comes", new(bags).add(1, 11, 2026, first, 2).add(1, 12, 2026, first, 1).add(1, 13, 2026, earlier, 1),
			func(b *edition.Back) { b.Members[0].Gone = true }, ""},
		{"nothing mended", new(bags).add(1, 11, 2026, first, 1).add(1, 12, 2026, first, 1).add(1, 13, 2026, earlier, 1),
			func(b *edition.Back) { b.Mended = false }, edition.BackUnmended},
		{"not signed", new(bags).add(1, 11, 2026, first, 1).add(1, 12, 2026, first, 1).add(1, 13, 2026, earlier, 1),
			func(b *edition.Back) { b.Members[3].Counted = false }, edition.BackUncounted},
		{"other falls", new(bags).add(1, 11, 2026, first, 1).add(1, 12, 2026, first, 1).add(1, 13, 2026, earlier, 1),
			func(b *edition.Back) { b.Window.Through = 2027 }, edition.BackWindow},
		{"another township", new(bags).add(2, 11, 2026, first, 1).add(2, 12, 2026, first, 1).add(2, 13, 2026, earlier, 1), nil, edition.BackAlone},
	} {
		t.Run(c.name, func(t *testing.T) {
			for i := range c.new.made { // their own numbers
				c.new.made[i].Sample = sampleID(1000 + i)
			}
			_, back, _ := three()
			if c.change != nil {
				c.change(&back)
			}
			plan, err := edition.Gather(edition.DefaultRules(), land(t, 1, 18), edition.History{}, cut(2026), c.new.made)
			require.NoError(t, err)
			require.Len(t, plan.Tranches, 1)
			plan = plan.Rejoin(edition.DefaultRules(), c.new.made, []edition.Back{back})
			if c.reason != "" {
				require.Equal(t, []edition.Blank{{Ref: back.Ref, Reason: c.reason}}, plan.Blank)
				require.Empty(t, plan.Tranches[0].Joins)
				return
			}
			require.Empty(t, plan.Blank)
			made, err := plan.Count(edition.DefaultRules(), 2, ranks, func(edition.SampleID) int { return 0 })
			require.NoError(t, err)
			left := 0
			for _, m := range back.Members {
				if !m.Gone {
					left++
				}
			}
			require.Equal(t, len(c.new.made)+left, made[0].Samples)
			require.Equal(t, []edition.Ref{{Edition: 1, ID: 1}}, made[0].Joins)
			require.Equal(t, edition.Window{Through: 2026}, made[0].Window, "older bags are in it now")
		})
	}
}

func TestShown(t *testing.T) {
	one, _, _ := three()
	whole := edition.Tranche{ID: 1, Edition: 4, County: 1, Kind: edition.KindTownship, Places: []place.ID{101}, Samples: 9, Counts: []int{9, 0, 0, 0, 0}}
	again := edition.CountedBy{Edition: 3, Scheme: 2, Recount: edition.Recount{Of: one.Ref(), Samples: 6, Counts: []int{4, 0, 2, 0}}}
	of := func(scheme int) edition.Ranks { return ranks[:len(ranks)-scheme+1] }
	see := func(e edition.Entry, no, scheme int) (counts []int, recalled bool) {
		shown, blank := edition.Shown([]edition.Entry{e}, no, scheme, of)
		if len(shown) > 0 {
			return shown[0].Counts, false
		}
		return nil, len(blank) > 0
	}
	e := edition.Entry{Tranche: one, Scheme: 1}
	for _, c := range []struct {
		name       string
		change     func(*edition.Entry)
		no, scheme int
		want       []int
		recalled   bool
	}{
		{"as released", nil, 1, 1, []int{4, 0, 1, 0, 1}, false},
		{"before it was", nil, 0, 1, nil, false},
		{"in levels it was never counted by", nil, 2, 2, []int{4, 0, 2}, false},
		{"restated", func(e *edition.Entry) { e.Again = append(e.Again, again) }, 3, 2, []int{4, 0, 2, 0}, false},
		{"restated, on an older map", func(e *edition.Entry) { e.Again = append(e.Again, again) }, 2, 1, []int{4, 0, 1, 0, 1}, false},
		{"recalled", func(e *edition.Entry) { e.RecallUpTo = 2 }, 2, 1, nil, true},
		{"recalled, on the oldest map", func(e *edition.Entry) { e.RecallUpTo = 2 }, 1, 1, nil, true},
		{"counted again since", func(e *edition.Entry) { e.RecallUpTo, e.Again = 2, append(e.Again, again) }, 3, 2, []int{4, 0, 2, 0}, false},
		{"counted again since, on an older map", func(e *edition.Entry) { e.RecallUpTo, e.Again = 2, append(e.Again, again) }, 2, 1, nil, true},
		{"out again in another", func(e *edition.Entry) { e.RecallUpTo, e.Into = 2, whole.Ref() }, 4, 1, nil, false},
		{"out again later", func(e *edition.Entry) { e.RecallUpTo, e.Into = 2, whole.Ref() }, 3, 1, nil, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := e
			if c.change != nil {
				c.change(&e)
			}
			counts, recalled := see(e, c.no, c.scheme)
			require.Equal(t, c.want, counts)
			require.Equal(t, c.recalled, recalled)
		})
	}
}

// What an edition of the later kinds says, read back.
func TestCanonicalOfTheYears(t *testing.T) {
	one, _, _ := three()
	whole := one
	whole.Edition, whole.Joins = 2, []edition.Ref{{Edition: 1, ID: 1}}
	m := edition.Meta{Number: 2, Kind: edition.Release, Season: 2026, K: 3, Scheme: 2, Ranks: ranks, Cuts: []float64{200, 2000.5}}
	text := edition.Canonical(m, []edition.Tranche{whole}, nil, edition.Recount{Of: one.Ref(), Samples: 6, Coarse: true, Counts: []int{4, 0, 2}})
	require.Contains(t, string(text), "cuts 200 2000.5\n")
	require.Contains(t, string(text), "joins 1 edition 1 tranche 1\nagain edition 1 tranche 1 samples 6 coarse 4 0 2\nend\n")
	e, err := attack.Read(text)
	require.NoError(t, err)
	require.Equal(t, []attack.Join{{ID: 1, Of: attack.Ref{Edition: 1, ID: 1}}}, e.Joins)
	require.Equal(t, []attack.Again{{Of: attack.Ref{Edition: 1, ID: 1}, Samples: 6, Coarse: true, Counts: []int{4, 0, 2}}}, e.Again)
}
