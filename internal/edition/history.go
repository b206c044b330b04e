package edition

import (
	"time"

	"sixmile/internal/place"
)

// History is what was released before. It is made from the public list of
// tranches alone: what the gathering allows depends on nothing a reader of all
// editions does not know too.
type History struct {
	Last   time.Time // the day of the last edition; zero before the first
	Season int       // its fall

	// Own and Pooled hold, for a township that had a tranche of its own or
	// was part of a district's, the fall through which the latest of them
	// emptied it.
	Own, Pooled map[place.ID]int
}

// HistoryOf sums up all tranches released so far, recalled ones included, for
// an edition that follows one of the given day and fall.
func HistoryOf(released []Tranche, last time.Time, season int) History {
	h := History{Last: last, Season: season, Own: make(map[place.ID]int), Pooled: make(map[place.ID]int)}
	for _, t := range released {
		switch t.Kind {
		case KindTownship:
			note(h.Own, t.Places, t.Window.Through)
		case KindDistrict:
			note(h.Pooled, t.Places, t.Window.Through)
		}
	}
	return h
}

func note(latest map[place.ID]int, places []place.ID, through int) {
	for _, p := range places {
		if old, known := latest[p]; !known || old < through {
			latest[p] = through
		}
	}
}

// blank says that a township never had a tranche of its own.
func (h History) blank(t place.ID) bool {
	_, own := h.Own[t]
	return !own
}

// mayHold says whether, as far as a reader can tell, a township may still have
// results of falls up to through.
func (h History) mayHold(t place.ID, through int) bool {
	if emptied, known := h.Own[t]; known && emptied >= through {
		return false
	}
	emptied, known := h.Pooled[t]
	return !known || emptied < through
}
