package tray

import (
	"slices"

	"sixmile/internal/bag"
)

// Part is a line of a ledger.
type Part struct {
	Key string // a state or another key; pages have its words
	N   int
}

// Ledger says where every one of a number of things is. Its parts must add up
// to the total.
type Ledger struct {
	Total int
	Parts []Part
	// Strange are parts nobody knows: a key that is not in the list, or a
	// negative number. They count as unexplained.
	Strange []Part
}

// Explained is the sum of the parts.
func (l Ledger) Explained() int {
	n := 0
	for _, p := range l.Parts {
		n += p.N
	}
	return n
}

// Unexplained is how many of the total no part accounts for; negative when the
// parts have more than there are. Zero, and no strange parts, is even.
func (l Ledger) Unexplained() int { return l.Total - l.Explained() }

// Even reports whether everything is accounted for.
func (l Ledger) Even() bool { return l.Unexplained() == 0 && len(l.Strange) == 0 }

// Lot accounts for the bags of a lot by their state: every bag has one. Parts
// come in the usual order of states, empty ones included.
func Lot(issued int, states map[bag.State]int) Ledger {
	var order []string
	counts := map[string]int{}
	for _, s := range bag.States() {
		order = append(order, string(s))
	}
	for s, n := range states {
		counts[string(s)] = n
	}
	return ledger(issued, order, counts)
}

// Where soil that arrived at the lab can be.
const (
	InTray    = "in_tray"    // logged with its form
	ByLot     = "by_lot"     // logged without form or slip: counts for the county of its lot
	Uncounted = "uncounted"  // logged, in no condition to be counted
	InQueue   = "in_queue"   // its code is unknown, used or doubled: waits for a person
	SentBack  = "sent_back"  // not the program's
	LaidAside = "laid_aside" // no code to be read
)

// Arrivals accounts for the bags the mail brought, by hand count, against what
// was done with each.
func Arrivals(arrived int, where map[string]int) Ledger {
	return ledger(arrived, []string{InTray, ByLot, Uncounted, InQueue, SentBack, LaidAside}, where)
}

func ledger(total int, order []string, counts map[string]int) Ledger {
	l := Ledger{Total: total}
	for _, key := range order {
		if counts[key] >= 0 {
			l.Parts = append(l.Parts, Part{key, counts[key]})
		}
	}
	for key, n := range counts {
		if n < 0 || !slices.Contains(order, key) {
			l.Strange = append(l.Strange, Part{key, n})
		}
	}
	slices.SortFunc(l.Strange, func(a, b Part) int {
		if a.Key < b.Key {
			return -1
		}
		return 1
	})
	return l
}

// BlankFails reports whether a blank shows that something was carried over from
// cup to cup: any egg or cyst in it does. The tray is then held, and its low
// counts above all are looked at again.
func BlankFails(eggs int, cystSeen bool) bool { return eggs > 0 || cystSeen }
