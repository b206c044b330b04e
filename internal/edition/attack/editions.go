package attack

import (
	"crypto/sha256"
	"fmt"
	"slices"
)

func few(p Public) (found []string) {
	for _, e := range p.Editions {
		for _, t := range e.Tranches {
			if e.K < 3 || t.Senders < e.K || t.Samples < t.Senders {
				found = append(found, fmt.Sprintf("edition %d tranche %d has %d senders, %d samples, k %d",
					e.Number, t.ID, t.Senders, t.Samples, e.K))
			}
		}
	}
	return found
}

func exactSenders(p Public) (found []string) {
	for _, e := range p.Editions {
		for _, t := range e.Tranches {
			if t.Senders != e.K {
				found = append(found, fmt.Sprintf("edition %d tranche %d has exactly %d senders", e.Number, t.ID, t.Senders))
			}
		}
	}
	return found
}

func sums(p Public) (found []string) {
	for _, e := range p.Editions {
		for _, t := range e.Tranches {
			total, want := 0, len(e.Ranks)
			if t.Coarse {
				want = 3
			}
			for _, n := range t.Counts {
				total += n
			}
			if total != t.Samples || len(t.Counts) != want {
				found = append(found, fmt.Sprintf("edition %d tranche %d has %d counts that sum to %d of %d",
					e.Number, t.ID, len(t.Counts), total, t.Samples))
			}
		}
		for _, a := range e.Again {
			total, floor := 0, e.K
			if e.Kind == "restated" {
				floor = p.kOf(a.Of.Edition) // it is out already, by the rules of its own edition
			}
			for _, n := range a.Counts {
				total += n
			}
			if total != a.Samples || a.Samples < floor || !a.Coarse && len(a.Counts) != len(e.Ranks) || a.Coarse && len(a.Counts) != 3 {
				found = append(found, fmt.Sprintf("edition %d counts %v again: %d of %d", e.Number, a.Of, total, a.Samples))
			}
		}
	}
	return found
}

func order(p Public) (found []string) {
	rank := map[string]int{"township": 0, "district": 1, "remainder": 2}
	key := func(t Tranche) []int { return append([]int{t.County, rank[t.Kind]}, t.Places...) }
	for _, e := range p.Editions {
		for i, t := range e.Tranches {
			if t.ID != i+1 || !slices.IsSorted(t.Places) ||
				i > 0 && slices.Compare(key(e.Tranches[i-1]), key(t)) >= 0 {
				found = append(found, fmt.Sprintf("edition %d line %d is out of order", e.Number, i+1))
			}
		}
	}
	return found
}

func chain(p Public) (found []string) {
	for i, e := range p.Editions[min(1, len(p.Editions)):] {
		before := p.Editions[i]
		if fmt.Sprintf("%x", sha256.Sum256([]byte(before.Text))) != e.Previous {
			found = append(found, fmt.Sprintf("edition %d was changed", before.Number))
		}
	}
	// Errata and restatements bring nothing new: they may come at once.
	var last *Edition
	for i, e := range p.Editions {
		if e.Kind != "release" {
			continue
		}
		if last != nil && e.Released.Sub(last.Released).Hours()/24 < 30 {
			found = append(found, fmt.Sprintf("edition %d follows after %.0f days", e.Number, e.Released.Sub(last.Released).Hours()/24))
		}
		last = &p.Editions[i]
	}
	return found
}

func windows(p Public) (found []string) {
	for _, e := range p.Editions {
		through := make(map[string]int)
		for _, t := range e.Tranches {
			last, known := through[t.Kind]
			through[t.Kind] = t.Through
			if known && last != t.Through || t.Through > e.Season || t.ThisFall && t.Through != e.Season {
				found = append(found, fmt.Sprintf("edition %d tranche %d is of %d, the edition of %d",
					e.Number, t.ID, t.Through, e.Season))
			}
		}
	}
	return found
}

// emptied replays the editions up to e, e's own tranches included, and says
// through which fall each township's results are known to be gone. A
// remainder of e itself does not count: it is what is asked about.
func emptied(p Public, e int, kinds ...string) map[int]int {
	gone := make(map[int]int)
	for _, edition := range p.Editions[:e+1] {
		for _, t := range edition.Tranches {
			if !slices.Contains(kinds, t.Kind) {
				continue
			}
			for _, place := range t.Places {
				gone[place] = max(gone[place], t.Through)
			}
		}
	}
	return gone
}

func whichTownship(p Public) (found []string) {
	for i, e := range p.Editions {
		own := emptied(p, i, "township")
		for _, t := range e.Tranches {
			if t.Kind != "district" {
				continue
			}
			possible := 0
			for _, place := range t.Places {
				if own[place] < t.Through {
					possible++
				}
			}
			if possible < 3 {
				found = append(found, fmt.Sprintf("edition %d tranche %d can only be of %d townships", e.Number, t.ID, possible))
			}
		}
	}
	return found
}

func whichRest(p Public) (found []string) {
	for i, e := range p.Editions {
		gone := emptied(p, i, "township", "district")
		for _, t := range e.Tranches {
			if t.Kind != "remainder" {
				continue
			}
			townships, districts := 0, make(map[int]bool)
			for township, district := range p.Map[t.County] {
				if gone[township] < t.Through {
					townships++
					districts[district] = true
				}
			}
			if townships < 5 || len(districts) < 2 {
				found = append(found, fmt.Sprintf("edition %d tranche %d can only be of %d townships in %d districts",
					e.Number, t.ID, townships, len(districts)))
			}
		}
	}
	return found
}
