package edition_test

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
	"sixmile/internal/place"
)

// after lets a year's mishaps happen, the attacker looking on after each.
func (y *years) after(s *simulation, cut edition.Cut) {
	if y == nil {
		return
	}
	look := func() {
		if y.check != nil {
			y.check(s)
		}
	}
	look()
	y.mend(s)
	look()
	y.takeBack(s)
	look()
	y.amend(s, cut)
	look()
	if s.rng.Float64() < y.rate {
		y.restate(s, cut, 1+s.rng.IntN(len(tables)))
		look()
	}
	if s.rng.Float64() < y.rate/3 {
		y.withdraw(s, len(s.texts))
		look()
	}
}

// mend corrects released results, voids and moves bags, and signs what waited
// for its signature.
func (y *years) mend(s *simulation) {
	clear(y.open)
	for _, e := range y.entries {
		if e.Into != (edition.Ref{}) || s.rng.Float64() > y.rate {
			continue
		}
		share := []float64{0.2, 0.5, 0.9}[s.rng.IntN(3)]
		for _, id := range slices.SortedFunc(maps.Keys(y.pinned[e.Ref()]), func(a, b edition.SampleID) int { return slices.Compare(a[:], b[:]) }) {
			if s.rng.Float64() > share {
				continue
			}
			switch s.rng.IntN(10) {
			case 0: // void, or from another township: here the same
				y.gone[id] = true
			case 1:
				y.open[id] = true
				fallthrough
			default:
				y.density[id] = []float64{0, 150, 1000, 9000, 48000, 300}[s.rng.IntN(6)]
			}
		}
	}
}

// takeBack recalls groups: mostly those with something to put right.
func (y *years) takeBack(s *simulation) {
	for i := range y.entries {
		e := &y.entries[i]
		if e.Into != (edition.Ref{}) || e.Recalled() {
			continue
		}
		wrong := y.back(*e).Mended
		if chance := s.rng.Float64(); wrong && chance < 0.7 || chance < 0.03 {
			y.recall(s, e)
			y.grouped[e.Ref()] = !wrong
		}
	}
}

func (y *years) recall(s *simulation, e *edition.Entry) {
	y.recalled++
	e.RecallUpTo = len(s.texts)
	y.recalls = append(y.recalls, attack.Recall{Of: attack.Ref(e.Ref()), UpTo: len(s.texts)})
}

func (y *years) meta(s *simulation, cut edition.Cut, kind edition.MetaKind) edition.Meta {
	return edition.Meta{Number: len(s.texts) + 1, Kind: kind, Season: cut.Season, Cutoff: cut.Day.AddDate(0, 0, -5), Released: cut.Day,
		K: s.rules.K, Scheme: y.scheme, Ranks: y.ranks(y.scheme), Cuts: cutsOf(y.scheme), Previous: s.previous}
}

func (y *years) publish(s *simulation, m edition.Meta, again []edition.Recount) {
	text := edition.Canonical(m, nil, nil, again...)
	s.texts, s.drafts, s.previous = append(s.texts, text), append(s.drafts, nil), edition.Digest(text)
	for _, r := range again {
		e := y.entry(r.Of)
		e.Again = append(e.Again, edition.CountedBy{Edition: m.Number, Scheme: m.Scheme, Recount: r})
	}
}

// amend brings out at once what may come out at once.
func (y *years) amend(s *simulation, cut edition.Cut) {
	var again []edition.Recount
	for _, e := range y.entries {
		if !e.Recalled() {
			continue
		}
		t, last := e.Last()
		if last.Scheme != y.scheme {
			continue
		}
		b := y.back(e)
		was := func(id edition.SampleID) int { return rankIn(y.scheme, y.pinned[e.Ref()][id]) }
		r, err := edition.Amend(s.rules, y.ranks(y.scheme), t, b, e.Before(y.scheme), was, y.rank(s, y.scheme))
		if err != nil && (y.bug == amendsAny || y.bug == amendsSwaps) && b.Mended {
			weak := edition.AmendAny
			if y.bug == amendsSwaps {
				weak = edition.AmendSwaps
			}
			r, err = edition.AmendWeak(weak, s.rules, y.ranks(y.scheme), t, b, was, y.rank(s, y.scheme))
		}
		if errors.Is(err, edition.ErrErratum) {
			continue
		}
		require.NoError(s.t, err)
		y.amended++
		farms := map[int]bool{}
		for id := range y.pinned[e.Ref()] {
			if y.gone[id] || was(id) != y.rank(s, y.scheme)(id) {
				farms[s.truth[id].farm] = true
			}
		}
		if len(farms) < s.rules.K {
			y.proofs = append(y.proofs, fmt.Sprintf("an erratum of %d farms", len(farms)))
		}
		again = append(again, r)
	}
	if len(again) == 0 {
		return
	}
	y.publish(s, y.meta(s, cut, edition.Erratum), again)
	for _, r := range again {
		pins := y.pinned[r.Of]
		for id := range pins {
			if y.gone[id] {
				delete(pins, id)
			} else {
				pins[id] = y.densityOf(s, id)
			}
		}
	}
}

// restate puts another level table in force.
func (y *years) restate(s *simulation, cut edition.Cut, scheme int) {
	var again []edition.Recount
	for _, e := range y.entries {
		if !e.MayCount(scheme) {
			continue
		}
		pins := y.pinned[e.Ref()]
		ids := slices.Collect(maps.Keys(pins))
		rank := func(id edition.SampleID) int { return rankIn(scheme, pins[id]) }
		used := y.used(e)
		if y.bug == restatesHeads {
			rank = y.rank(s, scheme)
		}
		if y.bug == restatesAll {
			used = nil
		}
		t, _ := e.Last()
		r, err := edition.Restate(t, y.ranks(scheme), used, cutsOf(scheme), ids, rank)
		if errors.Is(err, edition.ErrRestate) {
			continue
		}
		require.NoError(s.t, err)
		again = append(again, r)
	}
	y.restated += len(again)
	y.scheme = scheme
	y.publish(s, y.meta(s, cut, edition.Restated), again)
}

// used lists the cut points of every table of the group and of those in it.
func (y *years) used(e edition.Entry) (out []float64) {
	for _, scheme := range e.SchemesUsed() {
		out = append(out, cutsOf(scheme)...)
	}
	for _, j := range e.Joins {
		out = append(out, y.used(*y.entry(j))...)
	}
	return out
}

// withdraw takes an edition back with all that came out in it.
func (y *years) withdraw(s *simulation, number int) {
	y.taken = append(y.taken, number)
	for i := range y.entries {
		e := &y.entries[i]
		by := slices.ContainsFunc(e.Again, func(c edition.CountedBy) bool { return c.Edition == number })
		kind := y.kindOf(s, number)
		switch {
		case kind == edition.Restated && by:
			e.Spent = append(e.Spent, y.schemeOf(s, number))
			e.Again = slices.DeleteFunc(e.Again, func(c edition.CountedBy) bool { return c.Edition == number })
		case e.Edition == number || by:
			y.recall(s, e)
			y.grouped[e.Ref()] = true
		}
	}
}

func (y *years) schemeOf(s *simulation, number int) int {
	e, err := attack.Read(s.texts[number-1])
	require.NoError(s.t, err)
	return e.Scheme
}

func (y *years) kindOf(s *simulation, number int) edition.MetaKind {
	e, err := attack.Read(s.texts[number-1])
	require.NoError(s.t, err)
	return edition.MetaKind(e.Kind)
}

// public is what the attacker gets after all that: every text, what was
// recalled, and every figure of a page, of every edition as drawn today.
func (y *years) public(s *simulation) attack.Public {
	p := attack.Public{Map: mapOf(s.counties, s.towns), Recalls: y.recalls, Withdrawn: y.taken}
	for _, text := range s.texts {
		e, err := attack.Read(text)
		require.NoError(s.t, err)
		p.Editions = append(p.Editions, e)
		entries := y.entries
		if y.bug == drawsRecalled {
			entries = slices.Clone(entries)
			for i := range entries {
				entries[i].RecallUpTo = 0
			}
		}
		shown, _ := edition.Shown(entries, e.Number, e.Scheme, y.ranks)
		for c := 1; c <= s.counties; c++ {
			of := edition.OfCounty(shown, place.ID(c))
			sum, err := edition.Sum(y.ranks(e.Scheme), of...)
			require.NoError(s.t, err)
			p.Figures = append(p.Figures, attack.Figure{Label: "county", Edition: e.Number, County: c, Samples: sum.Samples, Finds: sum.Finds})
			for _, id := range edition.TownshipsShown(of) {
				sum, err := edition.Sum(y.ranks(e.Scheme), edition.OfTownship(of, id)...)
				require.NoError(s.t, err)
				p.Figures = append(p.Figures, attack.Figure{Label: "township", Edition: e.Number, County: c, Township: int(id),
					Samples: sum.Samples, Finds: sum.Finds})
			}
		}
	}
	return p
}
