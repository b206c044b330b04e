package edge

import "fmt"

// Standing is what a place's figures amount to.
type Standing uint8

// The standings, the least that is known first.
const (
	NoFigures    Standing = iota // never sampled, or too few to show
	ThinlyLooked                 // none found, and it could well have been missed
	WellLooked                   // none found; see Worth.WellLooked
	Unconfirmed                  // nothing more than unconfirmed bags besides
	Found
)

var standingNames = [...]string{"blank", "thin", "well", "unconfirmed", "found"}

// Standings lists all standings.
func Standings() []Standing {
	return []Standing{NoFigures, ThinlyLooked, WellLooked, Unconfirmed, Found}
}

// String is the standing's key: blank, thin, well, unconfirmed, found.
func (s Standing) String() string { return standingNames[min(int(s), len(standingNames)-1)] }

// Stand is a place's standing with what it rests on.
type Stand struct {
	Standing Standing
	// NextToFind tells that nothing was found there, nor in townships joined with
	// it, and that something was in a place that shares a boundary with it.
	NextToFind bool
	// Worth is of the place's clean bags. It is set where nothing was found.
	Worth Worth
}

// Stands are the standings of the survey's places by their own looks, in its
// order. Looks at joined places are of none of them alone.
func Stands(s Survey, o Options) ([]Stand, error) {
	out := make([]Stand, len(s.Places))
	neighbors := s.neighbors()
	for i, looks := range s.own() {
		var err error
		if out[i], err = StandOf(s.Season, s.Places[i].Acres, looks, o); err != nil {
			return nil, fmt.Errorf("edge.Stands: place %d: %w", s.Places[i].ID, err)
		}
	}
	perhaps := map[int]bool{}
	for _, l := range s.Looks {
		for _, p := range l.Places {
			perhaps[p] = perhaps[p] || l.Finds > 0
		}
	}
	for i := range out {
		if perhaps[i] {
			continue
		}
		for _, k := range neighbors[i] {
			out[i].NextToFind = out[i].NextToFind || out[k].Standing == Found
		}
	}
	return out, nil
}

// StandOf is the standing of so many acres by looks that are all of them alone.
func StandOf(season int, acres float64, looks []Look, o Options) (Stand, error) {
	var s Stand
	var clean []Clean
	unconfirmed := 0
	for _, l := range looks {
		if l.Finds > 0 {
			return Stand{Standing: Found}, nil
		}
		unconfirmed += l.Unconfirmed
		if l.None > 0 {
			clean = append(clean, Clean{Bags: l.None, Senders: min(l.Senders, l.None), Age: max(0, float64(season)-l.middle())})
		}
	}
	var err error
	if s.Worth, err = WorthOf(clean, o.Fields(acres), o); err != nil {
		return s, err
	}
	switch {
	case unconfirmed > 0:
		s.Standing = Unconfirmed
	case s.Worth.Bags == 0:
		s.Standing = NoFigures
	case s.Worth.WellLooked():
		s.Standing = WellLooked
	default:
		s.Standing = ThinlyLooked
	}
	return s, nil
}
