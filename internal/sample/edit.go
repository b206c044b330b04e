package sample

import "slices"

// Visit forms grow and shrink a block at a time, without a script, by sending
// the form and getting it back. These are the three ways; none of them changes
// the form it is given.

// WithBag adds a block for another bag of the last grower. It copies all but the
// code: several bags of one morning differ in little else. A full form stays as
// it is.
func (f Form) WithBag() Form {
	if len(f.Bags) == 0 || len(f.Bags) >= MaxBags {
		return f
	}
	next := f.Bags[len(f.Bags)-1]
	next.Code = ""
	return Form{Token: f.Token, Standings: f.Standings, Bags: append(slices.Clone(f.Bags), next)}
}

// WithGrower adds a block for the first bag of the next grower. It copies the
// county and the day; whose crops they were is the next grower's own affair.
func (f Form) WithGrower() Form {
	if len(f.Bags) == 0 || len(f.Bags) >= MaxBags {
		return f
	}
	last := f.Bags[len(f.Bags)-1]
	next := FormBag{Grower: last.Grower + 1, County: last.County, Day: last.Day}
	return Form{Token: f.Token, Standings: f.Standings, Bags: append(slices.Clone(f.Bags), next)}
}

// Without takes the i-th block out, and with a grower's last block that grower.
// The only block there is stays.
func (f Form) Without(i int) Form {
	if i < 0 || i >= len(f.Bags) || len(f.Bags) == 1 {
		return f
	}
	gone := f.Bags[i].Grower
	out := Form{Token: f.Token, Standings: f.Standings, Bags: slices.Delete(slices.Clone(f.Bags), i, i+1)}
	if gone < 0 || slices.ContainsFunc(out.Bags, func(b FormBag) bool { return b.Grower == gone }) {
		return out
	}
	if gone < len(f.Standings) {
		out.Standings = slices.Delete(slices.Clone(f.Standings), gone, gone+1)
	}
	for j := range out.Bags {
		if out.Bags[j].Grower > gone {
			out.Bags[j].Grower--
		}
	}
	return out
}
