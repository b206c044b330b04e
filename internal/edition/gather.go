package edition

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"sixmile/internal/place"
)

// Cut says which edition is being made.
type Cut struct {
	Season int       // the latest fall with bags in it, closed or not
	Day    time.Time // the day of release
}

// ErrTooSoon is wrapped when an edition would follow the last one too closely,
// or would go back to an earlier fall.
var ErrTooSoon = errors.New("too soon after the last edition")

// Gather is rules 1 to 5: it gathers waiting results into tranches.
//
// A township with a received bag that is not counted waits, whole. Otherwise
// all its waiting results with a sender become one tranche when they have k
// senders and are balanced. What is left over goes to its district once it has
// waited through Patience later falls: all such results of the district's
// townships together, when they have k senders, are balanced, and
// MinBlankTownships of the district never had a tranche of their own, this
// edition included. What is left over from that, with county-only results and
// past results without grouping, goes to the remainder of the county once it
// has waited twice as long, on the same terms, when the results could have come
// from MinOpenTownships in MinOpenDistricts. Results of one place that have
// waited go; its newer ones wait on for a tranche of their own. At each step,
// where only newer falls' bags upset the balance, the older ones go without
// them.
//
// The order of the input changes nothing. Nor do results that wait: taking
// them away, or changing them so that they still wait, leaves every tranche as
// it is.
func Gather(r Rules, g Ground, h History, cut Cut, pending []Pending) (Plan, error) {
	return gatherBy(rulesAsWritten, r, g, h, cut, pending)
}

// judgments are the decisions of the gathering, apart from the sweep through
// the places, so that each can be tried against a weaker one.
type judgments struct {
	senders       func([]Pending) int
	balanced      func(percent int, samples []Pending) bool
	districtOpen  func(h History, d district) bool
	remainderOpen func(h History, c county, through int) bool
}

var rulesAsWritten = judgments{Senders, Balanced, districtOpen, remainderOpen}

func gatherBy(j judgments, r Rules, g Ground, h History, cut Cut, pending []Pending) (Plan, error) {
	if err := r.Check(); err != nil {
		return Plan{}, err
	}
	if next := r.NextDay(h.Last); cut.Day.Before(next) {
		return Plan{}, fmt.Errorf("%w: not before %s", ErrTooSoon, next.Format(time.DateOnly))
	}
	if cut.Season < h.Season {
		return Plan{}, fmt.Errorf("%w: the last edition was of fall %d", ErrTooSoon, h.Season)
	}
	if err := checkPending(g, cut, pending); err != nil {
		return Plan{}, err
	}
	at := make(map[place.ID][]Pending)
	for _, p := range pending {
		at[p.Place] = append(at[p.Place], p)
	}
	plan := Plan{Season: cut.Season}
	for _, c := range g.counties {
		s := sweep{judgments: j, rules: r, cut: cut, history: h.copy(), county: c}
		s.run(at)
		plan.Tranches = append(plan.Tranches, s.drafts...)
		plan.Waiting = append(plan.Waiting, s.lacks...)
	}
	return plan, nil
}

// districtOpen says whether a reader must leave open which of the district's
// townships a district tranche came from.
func districtOpen(h History, d district) bool {
	blank := 0
	for _, t := range d.townships {
		if h.blank(t) {
			blank++
		}
	}
	return blank >= MinBlankTownships
}

// remainderOpen says the same of a remainder with results of falls up to
// through.
func remainderOpen(h History, c county, through int) bool {
	townships, districts := 0, 0
	for _, d := range c.districts {
		before := townships
		for _, t := range d.townships {
			if h.mayHold(t, through) {
				townships++
			}
		}
		if townships > before {
			districts++
		}
	}
	return townships >= MinOpenTownships && districts >= MinOpenDistricts
}

// sortDrafts puts drafts in the order in which an edition lists them: by
// place, never by content or by a sample's number.
func sortDrafts(drafts []Draft) {
	slices.SortStableFunc(drafts, func(a, b Draft) int {
		return cmp.Or(cmp.Compare(a.County, b.County),
			cmp.Compare(a.Kind.order(), b.Kind.order()), slices.Compare(a.Places, b.Places))
	})
}

func sortSamples(ids []SampleID) {
	slices.SortFunc(ids, func(a, b SampleID) int { return bytes.Compare(a[:], b[:]) })
}
