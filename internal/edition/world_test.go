package edition_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// settings of a simulated program. Shares are of one.
type settings struct {
	seed               uint64
	counties, towns    int
	falls              int
	senders            int // visits a county and fall, about
	rules              edition.Rules
	weak               edition.Weakness
	lies, blank        float64 // wrong taps; no tap
	uncounted, late    float64 // bags not counted, or not received, at an edition
	countyOnly         float64
	second             float64 // chance of a second edition in a year
	ungrouped          int     // past results without grouping in each county
	newcomers          int     // farms that might ever send, for each visit of a fall, of a calm program
	calm               bool    // everybody comes once, with one or two bags: for coverage
	wrongWindow, exact bool    // seeded mistakes in what is published
	rounding           func(n, atLeast int) int
	relevel            func(edition.SampleID, int) int // other results of the same bags
	findsFirst         bool                            // seeded mistake: finds are released ahead of the rest
}

func usual(seed uint64) settings {
	return settings{seed: seed, counties: 2, towns: 18, falls: 8, senders: 12, rules: edition.DefaultRules(),
		blank: 0.15, uncounted: 0.02, late: 0.1, countyOnly: 0.08, second: 0.3, ungrouped: 20}
}

// truth is what only the simulation knows of a sample.
type truth struct {
	farm  int
	level int
}

// farm is a true farm. It has land in one to three townships, a spouse who may
// bring bags too, and may leave it to an agronomist.
type farm struct {
	county     int
	towns      []int
	bundle     int // a bundle left over, which makes its next visit the same sender
	agronomist bool
	ever, now  bool
}

// simulation runs a program over the years and keeps what happened.
type simulation struct {
	settings
	t       testing.TB
	rng     *rand.Rand
	ground  edition.Ground
	farms   []farm
	numbers int

	waiting  []edition.Pending
	truth    map[edition.SampleID]truth
	season   map[edition.SampleID]int
	released map[edition.SampleID]bool

	history  edition.History
	tranches []edition.Tranche
	drafts   [][]edition.Draft // of each edition
	texts    [][]byte
	previous [32]byte
	lastFall []edition.FallSample // of the season, for fall figures

	years *years // what happens after a release; nil: nothing

	// each is called before an edition is released, with its plan.
	each func(s *simulation, cut edition.Cut, plan edition.Plan)
}

func newSimulation(t testing.TB, c settings) *simulation {
	s := &simulation{settings: c, t: t, rng: rand.New(rand.NewPCG(c.seed, 7)), ground: land(t, c.counties, c.towns),
		truth: make(map[edition.SampleID]truth), season: make(map[edition.SampleID]int), released: make(map[edition.SampleID]bool)}
	for county := 1; county <= c.counties; county++ {
		for range s.perCounty() {
			f := farm{county: county, agronomist: !c.calm && s.rng.Float64() < 0.15}
			home := 1 + int(float64(c.towns)*s.rng.Float64()*s.rng.Float64()) // some townships have more farms
			f.towns = []int{home}
			for s.rng.Float64() < 0.25 && len(f.towns) < 3 {
				f.towns = append(f.towns, 1+s.rng.IntN(c.towns))
			}
			s.farms = append(s.farms, f)
		}
		for range c.ungrouped {
			s.bag(farm{county: county, towns: []int{1 + s.rng.IntN(c.towns)}}, -1, edition.NoSender, already, 2015)
		}
	}
	return s
}

// perCounty is how many farms of a county might ever send.
func (s *simulation) perCounty() int {
	if s.calm {
		return s.senders * s.newcomers
	}
	return s.senders * 6
}

func (s *simulation) someFarm(county int) int {
	return (county-1)*s.perCounty() + s.rng.IntN(s.perCounty())
}

func (s *simulation) run() *simulation {
	for season := 2020; season < 2020+s.falls; season++ {
		s.fall(season)
		s.release(season, time.Date(season+1, time.January, 15, 0, 0, 0, 0, time.UTC))
		if s.rng.Float64() < s.second {
			s.release(season, time.Date(season+1, time.April, 1, 0, 0, 0, 0, time.UTC))
		}
	}
	return s
}

// fall lets farms send. About half of those who came before come again.
func (s *simulation) fall(season int) {
	for i := range s.farms {
		s.farms[i].now = false
	}
	for county := 1; county <= s.counties; county++ {
		for range s.senders {
			i := s.someFarm(county)
			if s.farms[i].now && s.calm {
				continue
			}
			switch {
			case s.farms[i].agronomist:
				s.agronomist(county, season)
			default:
				s.visit([]int{i}, season)
				if !s.calm && s.rng.Float64() < 0.2 { // the other half of the household
					s.visit([]int{i}, season)
				}
			}
		}
	}
}

// agronomist brings bags for several farms: with a divider each is its own
// sender, without it all are one.
func (s *simulation) agronomist(county, season int) {
	var box []int
	for range 1 + s.rng.IntN(4) {
		box = append(box, s.someFarm(county))
	}
	if s.rng.Float64() < 0.5 {
		for _, i := range box {
			s.visit([]int{i}, season)
		}
		return
	}
	s.visit(box, season)
}

// visit is one turn at the form. The true tap holds for every farm in it.
func (s *simulation) visit(farms []int, season int) {
	tap := first
	for _, i := range farms {
		switch {
		case s.farms[i].now:
			tap = min(tap, already)
		case s.farms[i].ever:
			tap = min(tap, earlier)
		}
	}
	if s.rng.Float64() < s.blank {
		tap = already
	} else if s.rng.Float64() < s.lies {
		tap = (tap + 1 + edition.Standing(s.rng.IntN(2))) % 3
	}
	s.numbers++
	number := s.numbers
	if b := s.farms[farms[0]].bundle; b > 0 && s.rng.Float64() < 0.7 {
		number = b // bags left over from a bundle: the same sender as then
	}
	for _, i := range farms {
		f := &s.farms[i]
		f.now, f.ever = true, true
		n := 1 + s.rng.IntN(2)
		if !s.calm {
			n += s.rng.IntN(3)
			if s.rng.Float64() < 0.3 {
				// Left-over bags stay with the farm, or go to a neighbor.
				s.farms[min(i+s.rng.IntN(2), len(s.farms)-1)].bundle = number
			}
		}
		for range n {
			s.bag(*f, i, senderID(number), tap, season)
		}
	}
}

func (s *simulation) bag(f farm, who int, number edition.SenderID, tap edition.Standing, season int) {
	town := f.towns[s.rng.IntN(len(f.towns))]
	p := edition.Pending{Sample: sampleID(len(s.truth) + 1), Sender: number, Standing: tap, Season: season,
		Place: township(f.county, town), County: place.ID(f.county)}
	if s.rng.Float64() < s.countyOnly {
		p.Place = p.County
	}
	level := 0
	if s.rng.IntN(s.towns) < town {
		level = s.rng.IntN(len(ranks))
	}
	if s.relevel != nil {
		level = s.relevel(p.Sample, level)
	}
	s.truth[p.Sample] = truth{farm: who, level: level}
	s.season[p.Sample] = season
	s.waiting = append(s.waiting, p)
	s.lastFall = append(s.lastFall, edition.FallSample{County: p.County, Season: season, Sender: number, Standing: tap,
		Rank: level, Found: level >= 2})
}

func (s *simulation) release(season int, day time.Time) {
	for i := range s.waiting {
		p := &s.waiting[i]
		p.Received = p.Received || s.rng.Float64() >= s.late || p.Season < season
		p.Counted = p.Received && (p.Counted || s.rng.Float64() >= s.uncounted)
	}
	cut := edition.Cut{Season: season, Day: day}
	gathered := s.waiting
	if s.findsFirst {
		gathered = nil
		for _, p := range s.waiting {
			if p.Season < season || s.truth[p.Sample].level >= 2 {
				gathered = append(gathered, p)
			}
		}
	}
	plan, err := edition.GatherWeak(s.weak, s.rules, s.ground, s.history, cut, gathered)
	require.NoError(s.t, err)
	if s.each != nil {
		s.each(s, cut, plan)
	}
	made := s.years.release(s, &plan, gathered)
	if s.years == nil {
		made = s.count(plan, func(id edition.SampleID) int { return s.truth[id].level })
	}
	for _, d := range plan.Tranches {
		for _, m := range d.Members {
			require.False(s.t, s.released[m], "a sample is in one tranche for ever")
			s.released[m] = true
		}
	}
	var left []edition.Pending
	for _, p := range s.waiting {
		if !s.released[p.Sample] {
			left = append(left, p)
		}
	}
	s.waiting = left
	s.tranches = append(s.tranches, made...)
	s.years.book(s, plan, made)
	text := s.text(cut, made)
	s.drafts, s.texts, s.previous = append(s.drafts, plan.Tranches), append(s.texts, text), edition.Digest(text)
	s.history = edition.HistoryOf(s.tranches, day, season)
	s.years.after(s, cut)
}

func (s *simulation) count(plan edition.Plan, level func(edition.SampleID) int) []edition.Tranche {
	made, err := plan.Count(s.rules, len(s.texts)+1, ranks, level)
	require.NoError(s.t, err)
	if s.exact || s.wrongWindow {
		for i, d := range plan.Tranches {
			if s.exact {
				made[i].Senders = d.Senders
			}
			if s.wrongWindow { // the newest bag's fall
				made[i].Window.Through = 0
				for _, m := range d.Members {
					made[i].Window.Through = max(made[i].Window.Through, s.season[m])
				}
			}
		}
	}
	return made
}

func (s *simulation) text(cut edition.Cut, made []edition.Tranche) []byte {
	meta := edition.Meta{Number: len(s.texts) + 1, Kind: edition.Release, Season: cut.Season, Cutoff: cut.Day.AddDate(0, 0, -5),
		Released: cut.Day, K: s.rules.K, Scheme: 1, Ranks: ranks, Previous: s.previous}
	if s.years != nil {
		meta.Scheme, meta.Ranks, meta.Cuts = s.years.scheme, s.years.ranks(s.years.scheme), cutsOf(s.years.scheme)
		return edition.Canonical(meta, made, s.years.falls(s, cut.Season))
	}
	return edition.Canonical(meta, made, s.fallFigures(cut.Season))
}

// fallFigures is the fall figures of the season, from everything counted.
func (s *simulation) fallFigures(season int) []edition.FallFigure {
	var counted []edition.FallSample
	uncounted := make(map[edition.SampleID]bool)
	for _, p := range s.waiting {
		uncounted[p.Sample] = !p.Counted
	}
	for i, f := range s.lastFall {
		id := sampleID(i + 1)
		if f.Season == season && !uncounted[id] {
			f.Waiting = !s.released[id]
			counted = append(counted, f)
		}
	}
	figures := edition.FallFigures(s.rules, ranks, counted, s.tranches)
	if s.rounding != nil {
		for i, f := range figures {
			n := 0
			for _, c := range counted {
				if c.County == f.County {
					n++
				}
			}
			figures[i].Samples = s.rounding(n, 0)
		}
	}
	return figures
}
