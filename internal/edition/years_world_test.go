package edition_test

import (
	"math"
	"slices"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
)

// years is what goes wrong after a release, and is put right: results are
// corrected, bags turn out void or from elsewhere, groups are recalled, level
// tables change, editions are withdrawn.
type years struct {
	rate    float64 // how much goes wrong
	bug     bug
	scheme  int
	entries []edition.Entry
	gone    map[edition.SampleID]bool
	open    map[edition.SampleID]bool // a correction waits for its signature
	density map[edition.SampleID]float64
	pinned  map[edition.Ref]map[edition.SampleID]float64 // as last published
	of      map[edition.SampleID]edition.Pending
	grouped map[edition.Ref]bool // recalled for its grouping: nothing to put right
	recalls []attack.Recall
	taken   []int // withdrawn editions
	check   func(s *simulation)
	proofs  []string // what truth says against what happened

	joined, amended, restated, recalled int
}

// bug is a mistake put into the years.
type bug int

const (
	noBug           bug = iota
	amendsAny           // an erratum for whatever was put right
	amendsSwaps         // an erratum where results of k senders changed, whatever the tables say
	takesUnrecalled     // a group that stands comes out again in another
	takesFew            // new results of its place are enough, however many drop out
	restatesHeads       // restatements count the results that stand now
	restatesAll         // whatever the cut points
	tellsFalls          // fall figures of a county with a recalled group
	drawsRecalled       // pages draw what was recalled
)

// The level tables of the years. The second, fourth and fifth go with the first.
var tables = [][]float64{
	{200, 2000, 12000}, {200, 2000, 5000}, {200, 4000, 16000}, {200, 800, 30000}, {200, 80000, 180000}, {200, 400000, 900000},
}

func cutsOf(scheme int) []float64 { return tables[scheme-1] }

func (y *years) ranks(scheme int) edition.Ranks {
	out := edition.Ranks{edition.ClassNone, edition.ClassUnconfirmed}
	for range cutsOf(scheme) {
		out = append(out, edition.ClassFound)
	}
	return out
}

func rankIn(scheme int, d float64) int {
	cuts := cutsOf(scheme)
	switch {
	case d == 0:
		return 0
	case d <= cuts[0]:
		return 1
	}
	rank := 2
	for _, c := range cuts[1:] {
		if d > c {
			rank++
		}
	}
	return rank
}

func newYears(rate float64, b bug) *years {
	return &years{rate: rate, bug: b, scheme: 1, gone: map[edition.SampleID]bool{}, open: map[edition.SampleID]bool{},
		density: map[edition.SampleID]float64{}, pinned: map[edition.Ref]map[edition.SampleID]float64{},
		of: map[edition.SampleID]edition.Pending{}, grouped: map[edition.Ref]bool{}}
}

// densityOf draws what a bag of the level held.
func (y *years) densityOf(s *simulation, id edition.SampleID) float64 {
	d, known := y.density[id]
	if !known {
		switch level := s.truth[id].level; level {
		case 0:
		case 1:
			d = 150
		default:
			d = 250 * math.Exp(s.rng.Float64()*7)
		}
		y.density[id] = d
	}
	return d
}

func (y *years) rank(s *simulation, scheme int) func(edition.SampleID) int {
	return func(id edition.SampleID) int { return rankIn(scheme, y.densityOf(s, id)) }
}

// release brings recalled groups back within the plan and counts it.
func (y *years) release(s *simulation, plan *edition.Plan, gathered []edition.Pending) []edition.Tranche {
	if y == nil {
		return nil
	}
	for _, p := range gathered {
		y.of[p.Sample] = p
	}
	backs := y.backs(func(e edition.Entry) bool { return e.Recalled() || y.bug == takesUnrecalled && e.Into == edition.Ref{} })
	rules := s.rules
	if y.bug == takesFew { // as if nothing had dropped out
		for i := range backs {
			backs[i].Members = slices.DeleteFunc(backs[i].Members, func(m edition.Held) bool { return m.Gone })
		}
	}
	*plan = plan.Rejoin(rules, gathered, backs)
	made, err := plan.Count(s.rules, len(s.texts)+1, y.ranks(y.scheme), y.rank(s, y.scheme))
	require.NoError(s.t, err)
	return made
}

func (y *years) backs(which func(edition.Entry) bool) (out []edition.Back) {
	for _, e := range y.entries {
		if which(e) {
			out = append(out, y.back(e))
		}
	}
	return out
}

func (y *years) back(e edition.Entry) edition.Back {
	mended := y.grouped[e.Ref()] || y.bug == takesUnrecalled
	var members []edition.Held
	for id, was := range y.pinned[e.Ref()] {
		p := y.of[id]
		p.Counted = !y.open[id]
		members = append(members, edition.Held{Pending: p, Gone: y.gone[id]})
		mended = mended || y.gone[id] || y.density[id] != was
	}
	t, _ := e.Last()
	return edition.BackOf(t, mended, members)
}

// book writes a release into the ledger.
func (y *years) book(s *simulation, plan edition.Plan, made []edition.Tranche) {
	if y == nil {
		return
	}
	for i, t := range made {
		pins := map[edition.SampleID]float64{}
		for _, m := range plan.Tranches[i].Members {
			pins[m] = y.densityOf(s, m)
		}
		for _, j := range plan.Tranches[i].Joins {
			y.joined++
			y.proveJoin(s, plan.Tranches[i], j)
			for _, m := range j.Members {
				pins[m] = y.densityOf(s, m)
			}
			y.entry(j.Ref).Into = t.Ref()
		}
		y.pinned[t.Ref()] = pins
		y.entries = append(y.entries, edition.Entry{Tranche: t, Scheme: y.scheme})
	}
}

func (y *years) entry(r edition.Ref) *edition.Entry {
	i := slices.IndexFunc(y.entries, func(e edition.Entry) bool { return e.Ref() == r })
	return &y.entries[i]
}

// proveJoin: what is new besides a recalled group is of k true farms.
func (y *years) proveJoin(s *simulation, d edition.Draft, j edition.Join) {
	farms := map[int]bool{}
	for _, m := range d.Members {
		farms[s.truth[m].farm] = true
	}
	if len(farms) < s.rules.K {
		y.proofs = append(y.proofs, "a recalled group came out with few farms")
	}
}

// falls are the fall figures of the season, with released samples as published.
func (y *years) falls(s *simulation, season int) []edition.FallFigure {
	published := map[edition.SampleID]float64{}
	for _, e := range y.entries {
		if e.Into != (edition.Ref{}) {
			continue
		}
		for id, d := range y.pinned[e.Ref()] {
			published[id] = d
		}
	}
	uncounted := map[edition.SampleID]bool{}
	for _, p := range s.waiting {
		uncounted[p.Sample] = !p.Counted
	}
	var counted []edition.FallSample
	for i, f := range s.lastFall {
		id := sampleID(i + 1)
		if f.Season != season || uncounted[id] {
			continue
		}
		d, out := published[id]
		if !out {
			d = y.densityOf(s, id)
		}
		f.Rank, f.Waiting = rankIn(y.scheme, d), !s.released[id]
		f.Found = f.Rank >= 2
		counted = append(counted, f)
	}
	shown, recalled := edition.Shown(y.entries, len(s.texts)+1, y.scheme, y.ranks)
	if y.bug == tellsFalls {
		recalled = nil
	}
	return edition.FallFigures(s.rules, y.ranks(y.scheme), counted, shown, recalled...)
}
