package desk

import (
	"time"

	"sixmile/internal/atlas"
	"sixmile/internal/place"
)

// Accepted says what accepting a boundary set did.
type Accepted struct {
	Set, Counties, Townships, Districts int
	New                                 bool // false: the same files had been accepted before
}

// BoundarySet is a set of places with their outlines, as a list shows it.
type BoundarySet struct {
	Accepted
	Day  time.Time // accepted
	SRID int       // of the outlines for drawing
}

// PendingSet is a set that is laid out to be looked over, neither accepted nor
// discarded.
type PendingSet struct {
	Ticket ID
	Day    time.Time
}

// StagedPlace is a place of a set that is laid out, for a map to look at.
type StagedPlace struct {
	Kind, Code, Name string
	County           string // code of a township's county
	Known            bool   // a place in force was found again in it
	Outline          atlas.Shape
}

// LonLat is a position in degrees.
type LonLat struct{ Lon, Lat float64 }

// Passage is what became of a place from one boundary set to the next.
type Passage string

// The passages. A place that kept its code, its name and its ground is only counted.
const (
	Renamed  Passage = "renamed"  // another code or name, the same place
	Reshaped Passage = "reshaped" // the same place on other ground
	Appeared Passage = "appeared" // new
	Vanished Passage = "vanished" // not in the later set
)

// Crossing is a line of a crosswalk.
type Crossing struct {
	Kind      place.Kind
	Passage   Passage
	Before    string  // name and code; "" for a new place
	After     string  // for one that vanished, the place that has most of its ground; "" where none has any
	County    string  // its name in the later set, or where there is none in the earlier
	Share     float64 // of the ground before that lies in the place after, 0 to 1
	BeforeKM2 float64
	AfterKM2  float64
}

// Crosswalk carries places from one boundary set over to the next.
type Crosswalk struct {
	From, To int
	Same     int        // places that are what they were
	Lines    []Crossing // vanished, appeared, reshaped, renamed; the first ones
	Total    map[Passage]int
}

// ReferenceLayer is a layer of towns, rivers, roads or ridges, as a list shows it.
type ReferenceLayer struct {
	Title, Kind        string
	Position, Features int
}

// LayerAdded says what became of a reference layer's features.
type LayerAdded struct {
	Shown  int // stored
	Beyond int // left out: nowhere near the set
}

// District is a district of a boundary set with the codes of its townships.
type District struct {
	County, Code string
	Townships    []string
}
