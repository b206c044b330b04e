package edition

import (
	"errors"
	"fmt"
)

// ErrErratum is wrapped where a recalled tranche cannot come out again at once.
var ErrErratum = errors.New("not enough was put right for an erratum")

// Amend is the second half of rule 6: a recalled tranche is counted again at
// once, without new results, when what was put right is itself the results of k
// senders. Nobody who holds old and new figures side by side can then lay the
// difference at one sender's door. In detail:
//
//   - the members whose class is another than was published, or that dropped
//     out, are of k surely different senders and balanced among them;
//   - the tables differ by k samples or more, from the last that was published
//     and from every one before: results that trade places do not hide a single
//     one that moves;
//   - what is left has k senders and is balanced.
//
// Before are all tables published of the tranche in this level table, the last
// one included; was gives the rank last published of a member, now that of the
// result that stands. Members whose sender is no longer known (package doc,
// unlinking) are nobody here, so an old tranche comes back with new results only.
func Amend(r Rules, ranks Ranks, t Tranche, b Back, before [][]int, was, now func(SampleID) int) (Recount, error) {
	if err := r.Check(); err != nil {
		return Recount{}, err
	}
	if why, ok := b.ready(); !ok {
		return Recount{}, fmt.Errorf("%w: %s", ErrErratum, why)
	}
	out, err := recount(t, ranks, b.left(), now)
	if err != nil {
		return Recount{}, err
	}
	changed, err := changedMembers(ranks, t.Coarse, b, was, now)
	if err != nil {
		return Recount{}, err
	}
	for _, group := range [][]Pending{changed, b.left()} {
		if Senders(group) < r.K || !Balanced(r.DominancePercent, group) {
			return Recount{}, fmt.Errorf("%w: results of %d senders changed, and %d are left", ErrErratum, Senders(changed), Senders(b.left()))
		}
	}
	for _, table := range before {
		if n := moved(table, out.Counts); n < r.K {
			return Recount{}, fmt.Errorf("%w: the figures differ by %d samples", ErrErratum, n)
		}
	}
	return out, nil
}

// changedMembers are those of another class than was published, and those that
// dropped out.
func changedMembers(ranks Ranks, coarse bool, b Back, was, now func(SampleID) int) (out []Pending, err error) {
	for _, m := range b.Members {
		if m.Gone {
			out = append(out, m.Pending)
			continue
		}
		then, err := columnOf(ranks, coarse, was(m.Sample))
		if err != nil {
			return nil, err
		}
		if today, err := columnOf(ranks, coarse, now(m.Sample)); err != nil {
			return nil, err
		} else if then != today {
			out = append(out, m.Pending)
		}
	}
	return out, nil
}

// moved is the least number of samples that were taken out, put in, or put into
// another class, to make one table into the other.
func moved(before, after []int) int {
	in, out := 0, 0
	for i := range max(len(before), len(after)) {
		d := at(after, i) - at(before, i)
		in, out = in+max(d, 0), out+max(-d, 0)
	}
	return max(in, out)
}

func at(counts []int, i int) int {
	if i < len(counts) {
		return counts[i]
	}
	return 0
}
