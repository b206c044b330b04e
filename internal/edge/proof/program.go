// Package proof runs the invented state's program as the office would, so that
// what is worked out from its public figures can be held against the truth
// behind them. It is for measurements and tests alone: nothing that people see
// may be made with it.
package proof

import (
	"encoding/binary"
	"fmt"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/edge"
	"sixmile/internal/edition"
	"sixmile/internal/place"
	"sixmile/internal/world"
)

// LastSeason is the last closed fall of the worlds here; any would do.
const LastSeason = 2026

// Program is a world with what was released of it.
type Program struct {
	World    *world.World
	Places   []edge.Place // in the order of World.Townships
	County   []place.ID   // of each place
	Counties []place.ID   // in the order of World.Counties
	Ranks    edition.Ranks
	Rules    edition.Rules
	// Tranches are those of all editions, one each January, and Falls are those of
	// the last of them.
	Tranches []edition.Tranche
	Falls    []edition.FallFigure
}

// countyBase keeps the ids of counties and districts apart from townships'.
const countyBase, districtBase = 100_000, 200_000

// townshipID is the id of a township by its index, from 1.
func townshipID(i int) place.ID { return place.ID(i + 1) }

// Run takes the world of a seed through the given number of closed falls, with an
// edition every January, by the default level table and rules.
func Run(seed uint64, falls int) (*Program, error) {
	p := &Program{World: world.New(seed, LastSeason), Rules: edition.DefaultRules()}
	for _, c := range assay.DefaultScheme().Classes {
		p.Ranks = append(p.Ranks, edition.ClassKind(c.Kind.String()))
	}
	ground, at, err := p.ground()
	if err != nil {
		return nil, err
	}
	r := runner{Program: p, ground: ground, at: at, rank: map[edition.SampleID]int{}}
	for i := range falls {
		if err := r.fall(i); err != nil {
			return nil, fmt.Errorf("proof.Run: fall %d: %w", i, err)
		}
	}
	return p, nil
}

// ground cuts the state into districts as the program does.
func (p *Program) ground() (edition.Ground, map[[2]string]int, error) {
	w := p.World
	countyID, at := map[string]place.ID{}, map[[2]string]int{}
	for i, c := range w.Counties {
		countyID[c.Code] = place.ID(countyBase + i)
		p.Counties = append(p.Counties, countyID[c.Code])
	}
	adjacent, byID := w.Adjacent(), map[place.ID][]place.ID{}
	cells := map[place.ID][]place.Cell{}
	for i, t := range w.Townships {
		x, y := w.Middle(i)
		e := edge.Place{ID: townshipID(i), X: x, Y: y, Acres: w.Acres(i)}
		for _, n := range adjacent[i] {
			e.Neighbors = append(e.Neighbors, townshipID(n))
		}
		byID[e.ID] = e.Neighbors
		county := countyID[t.County]
		p.Places, p.County = append(p.Places, e), append(p.County, county)
		cells[county] = append(cells[county], place.Cell{ID: e.ID, X: int32(x), Y: int32(y), Area: e.Acres})
		at[[2]string{t.County, t.Code}] = i
	}
	var townships []edition.Township
	for _, c := range p.Counties {
		for _, d := range place.CutDistricts(cells[c], byID) {
			for _, t := range d {
				townships = append(townships, edition.Township{ID: t, County: c, District: districtBase + d[0]})
			}
		}
	}
	g, err := edition.NewGround(p.Counties, townships)
	return g, at, err
}

// runner is a program under way.
type runner struct {
	*Program
	ground  edition.Ground
	at      map[[2]string]int
	waiting []bagIn
	rank    map[edition.SampleID]int
	falls   []edition.FallSample
	ids     []edition.SampleID // of falls
	history edition.History
	senders uint64
	bags    uint64
}

// bagIn is a bag that is on its way to an edition.
type bagIn struct {
	edition.Pending
	received, counted time.Time
}

// fall takes in a fall's bags and makes its edition.
func (r *runner) fall(i int) error {
	season := r.World.Seasons[i]
	for _, v := range season.Visits {
		for _, s := range v.Senders {
			r.senders++
			for _, b := range s.Bags {
				if err := r.take(season.Year, s, b); err != nil {
					return err
				}
			}
		}
	}
	day := time.Date(season.Year+1, time.January, 15, 0, 0, 0, 0, time.UTC)
	pending := make([]edition.Pending, len(r.waiting))
	for k, b := range r.waiting {
		b.Received = !b.received.IsZero() && !b.received.After(day)
		b.Counted = !b.counted.IsZero() && !b.counted.After(day)
		pending[k] = b.Pending
	}
	plan, err := edition.Gather(r.Rules, r.ground, r.history, edition.Cut{Season: season.Year, Day: day}, pending)
	if err != nil {
		return err
	}
	made, err := plan.Count(r.Rules, i+1, r.Ranks, func(id edition.SampleID) int { return r.rank[id] })
	if err != nil {
		return err
	}
	r.Tranches = append(r.Tranches, made...)
	r.history = edition.HistoryOf(r.Tranches, day, season.Year)
	released := map[edition.SampleID]bool{}
	for _, d := range plan.Tranches {
		for _, m := range d.Members {
			released[m] = true
		}
	}
	r.drop(released)
	r.Program.Falls = edition.FallFigures(r.Rules, r.Ranks, r.falls, r.Tranches)
	return nil
}

// drop takes what was released off the pile.
func (r *runner) drop(released map[edition.SampleID]bool) {
	var left []bagIn
	for _, b := range r.waiting {
		if !released[b.Sample] {
			left = append(left, b)
		}
	}
	r.waiting = left
	for i, id := range r.ids {
		if released[id] {
			r.falls[i].Waiting = false
		}
	}
}

// take books one bag.
func (r *runner) take(season int, s world.Sender, b world.Bag) error {
	r.bags++
	in := bagIn{received: b.Received, counted: b.Counted}
	// Scattered, so that a sample's number tells nothing of its place or day.
	binary.BigEndian.PutUint64(in.Sample[:], r.bags*0x9E3779B97F4A7C15)
	binary.BigEndian.PutUint64(in.Sender[:], r.senders)
	in.Season = season
	switch s.Standing {
	case world.First:
		in.Standing = edition.FirstEver
	case world.Earlier:
		in.Standing = edition.Earlier
	}
	for i, c := range r.World.Counties {
		if c.Code == b.County {
			in.County, in.Place = r.Counties[i], r.Counties[i]
		}
	}
	if i, known := r.at[[2]string{b.County, b.Township}]; known {
		in.Place = townshipID(i)
	}
	r.waiting = append(r.waiting, in)
	if b.Counted.IsZero() {
		return nil
	}
	rank, err := rankOf(b.Count)
	r.rank[in.Sample] = rank
	r.ids = append(r.ids, in.Sample)
	r.falls = append(r.falls, edition.FallSample{County: in.County, Season: season, Sender: in.Sender,
		Standing: in.Standing, Rank: rank, Found: r.Ranks[rank] == edition.ClassFound, Waiting: true})
	return err
}

// rankOf sorts a count as the lab would.
func rankOf(c world.Count) (int, error) {
	reading, err := assay.Count{
		SoilCM3: float64(c.SoilCM3), SuspensionML: float64(c.SuspensionML), CystSeen: c.Cyst,
		Aliquots: []assay.Aliquot{{ML: float64(c.AliquotML), Eggs: c.Eggs}},
	}.Density(assay.DefaultMethod())
	if err != nil {
		return 0, err
	}
	return assay.DefaultScheme().Class(reading).Rank, nil
}

// Survey is what the public figures say of looking.
func (p *Program) Survey(o edge.Options) (edge.Survey, error) {
	season := 0
	for _, t := range p.Tranches {
		season = max(season, t.Window.Through)
	}
	return edge.NewSurvey(season, p.Places, p.Ranks, p.Tranches, o.Reach)
}
