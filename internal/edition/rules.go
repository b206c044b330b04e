package edition

import (
	"errors"
	"fmt"
	"time"
)

// Rules are a program's release settings. None of them may be set lower than
// the promise made to growers; Check says so.
type Rules struct {
	K                int // fewest senders in a tranche; 3 or more
	Patience         int // later falls a result waits before it goes with its district, and again before the remainder
	DominancePercent int // all but the two largest senders' bags, in percent of the largest's
	GapDays          int // fewest days between editions; 30 or more
	FallFloor        int // fewest senders behind a fall figure; 5 or more
	FullClassesFrom  int // tranches under this many senders show none, unconfirmed and found only; 0: all show every class
}

const (
	// MinBlankTownships is how many of a district's townships must never
	// have had a tranche of their own when the district gets one.
	MinBlankTownships = 3

	// MinOpenTownships and MinOpenDistricts are how many townships, in how
	// many districts of the county, a remainder's results could come from
	// as far as a reader of every edition can tell.
	MinOpenTownships = 5
	MinOpenDistricts = 2
)

// DefaultRules are the settings a new program starts with: three senders (some
// agencies ask for three, others for five: OECD/UNECE glossary of statistical
// disclosure control, 2005), the p-percent rule at 20, sixty days.
func DefaultRules() Rules {
	return Rules{K: 3, Patience: 2, DominancePercent: 20, GapDays: 60, FallFloor: 5}
}

// ErrRules is wrapped by every refusal of Rules.Check.
var ErrRules = errors.New("release rules are weaker than the promise")

// Check refuses settings that break the promise, or that cannot be meant.
func (r Rules) Check() error {
	for _, c := range []struct {
		name          string
		got, low, top int
	}{
		{"senders in a tranche", r.K, 3, 1000},
		{"patience in falls", r.Patience, 1, 10},
		{"dominance in percent", r.DominancePercent, 1, 100},
		{"days between editions", r.GapDays, 30, 3660},
		{"senders behind a fall figure", r.FallFloor, 5, 1000},
		{"senders for every level", r.FullClassesFrom, 0, 1000},
	} {
		if c.got < c.low || c.got > c.top {
			return fmt.Errorf("%w: %s is %d, and must be %d to %d", ErrRules, c.name, c.got, c.low, c.top)
		}
	}
	return nil
}

// NextDay is the first day on which an edition may follow one of the day last.
// Editions close together would let a reader see which bag came in between.
func (r Rules) NextDay(last time.Time) time.Time {
	if last.IsZero() {
		return last
	}
	return last.AddDate(0, 0, r.GapDays)
}
