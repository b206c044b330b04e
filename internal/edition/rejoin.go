package edition

import (
	"cmp"
	"slices"
)

// Join is a recalled tranche that comes out again within a draft.
type Join struct {
	Ref
	Window  Window
	Members []SampleID // in order of their random numbers
}

// Blank is a recalled tranche that stays away, and why.
type Blank struct {
	Ref
	Reason Reason
}

// The reasons why a recalled tranche stays away.
const (
	BackUnmended  Reason = "back_unmended"  // nothing was put right yet
	BackUncounted Reason = "back_uncounted" // a result of it is not there, or not signed
	BackAlone     Reason = "back_alone"     // its place releases nothing new this time
	BackTooFew    Reason = "back_too_few"   // under k senders among the new results that are not in it already
	BackDominance Reason = "back_dominance" // one or two senders sent nearly all the bags of both together
	BackWindow    Reason = "back_window"    // its falls go past those of the new results' group
)

// Rejoin is the first half of rule 6: a recalled tranche comes out again,
// whole, within a draft of its own place. The draft was gathered without it, so
// it has k senders of its own, and those of them that are not in the recalled
// tranche are k too: what a reader gets who subtracts the old figures from the
// new ones is the results of k senders, never what was put right. For the same
// reason k samples more come in than drop out: no reader can tell that any did.
//
// Pending is what the plan was gathered from. Whether a tranche comes back
// follows, like everything here, from nothing that was counted.
func (p Plan) Rejoin(r Rules, pending []Pending, recalled []Back) Plan {
	of := make(map[SampleID]Pending, len(pending))
	for _, w := range pending {
		of[w.Sample] = w
	}
	p.Tranches = slices.Clone(p.Tranches)
	p.Blank = nil
	backs := slices.SortedFunc(slices.Values(recalled), func(a, b Back) int { return compareRefs(a.Ref, b.Ref) })
	taken := make(map[int][]Held) // by draft: what came back into it
	for _, b := range backs {
		i := slices.IndexFunc(p.Tranches, func(d Draft) bool {
			return d.County == b.County && d.Kind == b.Kind && slices.Equal(d.Places, b.Places)
		})
		reason, ok := b.ready()
		if ok && i < 0 {
			reason, ok = BackAlone, false
		}
		if ok {
			all := append(slices.Clone(taken[i]), b.Members...)
			if reason, ok = p.Tranches[i].takes(r, of, b, all); ok {
				taken[i] = all
				p.Tranches[i] = p.Tranches[i].with(b)
				continue
			}
		}
		p.Blank = append(p.Blank, Blank{b.Ref, reason})
	}
	return p
}

// takes says whether everything that was recalled may come back in the draft.
func (d Draft) takes(r Rules, of map[SampleID]Pending, b Back, all []Held) (Reason, bool) {
	if b.Window.Through > d.Window.Through {
		return BackWindow, false
	}
	known := make(map[SenderID]bool)
	gone := 0
	var together, fresh []Pending
	for _, m := range all {
		known[m.Sender] = true
		if m.Gone {
			gone++
		} else {
			together = append(together, m.Pending)
		}
	}
	for _, m := range d.Members {
		w := of[m]
		together = append(together, w)
		if !known[w.Sender] {
			fresh = append(fresh, w)
		}
	}
	switch {
	case Senders(fresh) < r.K || len(d.Members)-gone < r.K:
		return BackTooFew, false
	case !Balanced(r.DominancePercent, together):
		return BackDominance, false
	}
	return "", true
}

// with is the draft and the recalled tranche together.
func (d Draft) with(b Back) Draft {
	j := Join{Ref: b.Ref, Window: b.Window}
	for _, m := range b.left() {
		j.Members = append(j.Members, m.Sample)
	}
	sortSamples(j.Members)
	d.Joins = append(slices.Clone(d.Joins), j)
	// As far as a reader knows: from what both windows say, not from the bags.
	d.Window.ThisFall = d.Window.ThisFall && b.Window == Window{ThisFall: true, Through: d.Window.Through}
	return d
}

// everyone lists all that the draft counts.
func (d Draft) everyone() []SampleID {
	all := slices.Clone(d.Members)
	for _, j := range d.Joins {
		all = append(all, j.Members...)
	}
	return all
}

func compareRefs(a, b Ref) int {
	return cmp.Or(cmp.Compare(a.Edition, b.Edition), cmp.Compare(a.ID, b.ID))
}
