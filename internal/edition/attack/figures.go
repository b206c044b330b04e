package attack

import "fmt"

// AboutFive is the rule for fall figures as published: to the nearest five;
// where fewer than five of the numbers that round to the same are possible,
// because the reader knows that it is at least so many, those numbers are given
// as the next multiple of five.
func AboutFive(n, atLeast int) int {
	five := 0
	for n > five+2 {
		five += 5
	}
	possible := 0
	for m := five - 2; m <= five+2; m++ {
		if m >= atLeast && m >= 0 {
			possible++
		}
	}
	if possible < 5 {
		return five + 5
	}
	return five
}

// ofFall is what the map of edition e, when it came out, showed of one county's
// fall alone. What was recalled later was on it still.
func ofFall(p Public, e, county, season int) (samples, finds, highest int) {
	highest = -1
	then := Public{Editions: p.Editions[:e+1]}
	no := p.Editions[e].Number
	for _, r := range p.Recalls {
		if r.UpTo < no {
			then.Recalls = append(then.Recalls, r)
		}
	}
	for _, g := range then.groups() {
		if g.County != county || !g.ThisFall || g.Through != season {
			continue
		}
		t := g.drawn(no, p.Editions[e].Scheme)
		if t == nil {
			continue
		}
		samples += t.samples
		finds += t.finds()
		for rank, n := range t.counts {
			if n > 0 && !t.coarse {
				highest = max(highest, rank)
			}
		}
	}
	return samples, finds, highest
}

// preimage is how many numbers, given the least it can be, are printed so.
func preimage(rounding func(n, atLeast int) int, printed, atLeast int) int {
	possible := 0
	for n := atLeast; n <= printed+20; n++ {
		if rounding(n, atLeast) == printed {
			possible++
		}
	}
	return possible
}

func fallMinusMap(p Public) (found []string) {
	rounding := p.Rounding
	if rounding == nil {
		rounding = AboutFive
	}
	for i, e := range p.Editions {
		for _, f := range e.Falls {
			samples, finds, _ := ofFall(p, i, f.County, f.Season)
			if n := preimage(rounding, f.Samples, max(samples, 5)); n < 5 {
				found = append(found, fmt.Sprintf("edition %d county %d: %d possible numbers of waiting samples",
					e.Number, f.County, n))
			}
			// Without a find the highest level says so of everybody alike.
			if f.Finds == 0 {
				continue
			}
			least := finds
			if f.Highest >= 0 {
				least = max(finds, 1)
			}
			if n := preimage(rounding, f.Finds, least); n < 5 {
				found = append(found, fmt.Sprintf("edition %d county %d: %d possible numbers of waiting finds",
					e.Number, f.County, n))
			}
		}
	}
	return found
}

// higherThanMap: a level above the map's is news about waiting bags. Under the
// published rule at least five senders wait then, so the figure must be able to
// hold five more samples than the map.
func higherThanMap(p Public) (found []string) {
	for i, e := range p.Editions {
		for _, f := range e.Falls {
			samples, _, highest := ofFall(p, i, f.County, f.Season)
			if f.Highest > highest && f.Samples+7 < samples+5 {
				found = append(found, fmt.Sprintf("edition %d county %d: level %d is of at most %d waiting bags",
					e.Number, f.County, f.Highest, f.Samples+7-samples))
			}
		}
	}
	return found
}

func recompute(p Public) (found []string) {
	groups := p.groups()
	for _, f := range p.Figures {
		samples, finds := 0, 0
		for _, g := range groups {
			if g.County != f.County || f.Fall != 0 && (!g.ThisFall || g.Through != f.Fall) ||
				f.Township != 0 && (g.Kind != "township" || g.Places[0] != f.Township) {
				continue
			}
			if t := g.drawn(f.Edition, p.schemeOf(f.Edition)); t != nil {
				samples += t.samples
				finds += t.finds()
			}
		}
		if samples != f.Samples || finds != f.Finds {
			found = append(found, fmt.Sprintf("%s: %d samples and %d finds besides the tranches",
				f.Label, f.Samples-samples, f.Finds-finds))
		}
	}
	return found
}

// thenMinusNow works from the figures alone, without the list of tranches.
func thenMinusNow(p Public) (found []string) {
	type scope struct{ county, township, fall int }
	last := make(map[scope]Figure)
	for _, f := range p.Figures {
		s := scope{f.County, f.Township, f.Fall}
		if before, known := last[s]; known {
			samples, finds := f.Samples-before.Samples, f.Finds-before.Finds
			// In other levels the same bags may be finds or not.
			otherLevels := p.schemeOf(f.Edition) != p.schemeOf(before.Edition)
			if samples != 0 && samples < p.leastK(before.Edition, f.Edition) || !otherLevels && (finds < 0 || finds > samples) {
				found = append(found, fmt.Sprintf("%s: %d samples since edition %d", f.Label, samples, before.Edition))
			}
		}
		last[s] = f
	}
	return found
}
