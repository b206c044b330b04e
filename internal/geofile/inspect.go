package geofile

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// Ticket names a set that is laid out to be looked over and is not in force.
type Ticket [16]byte

// NewTicket draws one.
func NewTicket() Ticket {
	var t Ticket
	_, _ = rand.Read(t[:]) // never fails, by its documentation
	return t
}

func (t Ticket) String() string { return hex.EncodeToString(t[:]) }

// ParseTicket reads what String wrote.
func ParseTicket(s string) (Ticket, error) {
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(Ticket{}) {
		return Ticket{}, errors.New("not a ticket")
	}
	return Ticket(b), nil
}

// Bounds above which something is reported. Areas are in square meters.
const (
	// LeastArea is a hectare: gaps and overlaps under it are only counted.
	LeastArea = 10_000.0
	// SliverArea is a square kilometer, under three in a hundred of a surveyed
	// township: a part cut off by a county line that is smaller goes with the
	// township's largest part.
	SliverArea = 1_000_000.0
	// SliverWidth in meters: gaps and overlaps narrower on average are called
	// slivers, which come of two files drawn apart.
	SliverWidth = 100.0
)

// Layout counts what a layer holds, after mending.
type Layout struct {
	Features, Rings, Points  int
	Area                     float64 // square meters on the ellipsoid
	West, South, East, North float64 // degrees
}

// Weight is what a finding means for accepting.
type Weight int

// The weights.
const (
	Note Weight = iota // good to know
	Look               // have a look at it first
	Stop               // cannot be accepted
)

// Finding is one thing the looking-over found.
type Finding struct {
	Kind   FindingKind
	Weight Weight
	Total  int     // how often
	Area   float64 // of all of them, square meters
	Items  []Item  // the largest ones
}

// Item is a place a finding is about.
type Item struct {
	Places   []string // names, one or two
	Area     float64  // square meters
	Lon, Lat float64  // a point to look at
	Detail   string
}

// FindingKind is what was found.
type FindingKind string

// The kinds of finding. Where nothing else is said, items name the places.
const (
	Repaired       FindingKind = "repaired"         // outlines that crossed themselves; Detail says how, Area the change
	NothingLeft    FindingKind = "nothing left"     // outlines of no area even so
	CountyOverlap  FindingKind = "county overlap"   // two counties over each other
	Overlap        FindingKind = "overlap"          // two townships over each other
	Twice          FindingKind = "twice"            // two townships that are mostly the same ground
	CountyGap      FindingKind = "county gap"       // land among counties that is in none
	Gap            FindingKind = "gap"              // parts of counties without township
	Sliver         FindingKind = "sliver"           // narrow gaps and overlaps
	OutsideAll     FindingKind = "outside all"      // townships in no county: left out
	CutOff         FindingKind = "cut off"          // parts of townships beyond every county
	CutByLine      FindingKind = "cut by line"      // townships made into one place per county
	SmallPart      FindingKind = "small part"       // parts too small to be places of their own
	OverLine       FindingKind = "over line"        // townships that reach out of the county their file names
	WrongCounty    FindingKind = "wrong county"     // townships not in the county their file names
	Empty          FindingKind = "empty"            // counties without townships
	Elsewhere      FindingKind = "elsewhere"        // the layers are in different parts of the earth
	NotWhereBefore FindingKind = "not where before" // far from the boundaries in force
	OldDatum       FindingKind = "old datum"        // NAD 27 without the grids that make it exact
	Lost           FindingKind = "lost"             // places of the boundaries in force that the new ones do not have
	LostWaiting    FindingKind = "lost waiting"     // those of them where results wait to be released
	Moved          FindingKind = "moved"            // places whose code stayed and whose ground did not
	Renamed        FindingKind = "renamed"          // places known again by their ground, under another code
)

// Inspection is the report on a set before it is accepted.
type Inspection struct {
	Counties, Townships Layout
	Places              int    // townships as they will be, one per county
	Districts           int    // known once accepted
	Tolerance           [2]int // meters by which drawn outlines may differ, least and most
	SRID                int    // of the drawn outlines
	Corners             [2]int // of outlines, in full and drawn
	Kept, New           int    // places of the boundaries in force found again, and those that are new
	Known               int    // the set that these files are already, 0 if none
	Findings            []Finding
}

// Stopped reports whether something stands in the way of accepting.
func (i Inspection) Stopped() bool {
	for _, f := range i.Findings {
		if f.Weight == Stop {
			return true
		}
	}
	return false
}

// Find is the finding of a kind; its Total is 0 if there is none.
func (i Inspection) Find(kind FindingKind) Finding {
	for _, f := range i.Findings {
		if f.Kind == kind {
			return f
		}
	}
	return Finding{Kind: kind}
}

// Refused is the error of accepting what cannot be accepted.
type Refused struct{ Inspection Inspection }

func (r *Refused) Error() string {
	var lines []string
	for _, f := range r.Inspection.Findings {
		if f.Weight == Stop {
			lines = append(lines, f.String())
		}
	}
	return "these boundaries cannot be accepted. " + strings.Join(lines, " ")
}

// String is a plain sentence, with the largest of what was found.
func (f Finding) String() string {
	s := f.sentence()
	if len(f.Items) == 0 {
		return s
	}
	var items []string
	for i, item := range f.Items {
		if i == maxNamed {
			items = append(items, fmt.Sprintf("and %d more", f.Total-maxNamed))
			break
		}
		items = append(items, item.String())
	}
	return strings.TrimSuffix(s, ".") + ": " + strings.Join(items, "; ") + "."
}

// maxNamed is how many items a sentence names.
const maxNamed = 5

// String names the places, their area and the point to look at.
func (i Item) String() string {
	s := strings.Join(i.Places, " and ")
	var more []string
	if i.Detail != "" {
		more = append(more, i.Detail)
	}
	if i.Area != 0 {
		more = append(more, Acres(i.Area))
	}
	if i.Lon != 0 || i.Lat != 0 {
		more = append(more, fmt.Sprintf("near %.4f, %.4f", i.Lat, i.Lon))
	}
	if len(more) > 0 {
		s += " (" + strings.Join(more, ", ") + ")"
	}
	return s
}

// Acres writes an area for people, from square meters. An international acre
// is 4046.8564224 square meters, a square mile 640 of them (exact).
func Acres(m2 float64) string {
	const acre = 4046.8564224
	switch a := m2 / acre; {
	case a >= 640 || a <= -640:
		return fmt.Sprintf("%.1f square miles", a/640)
	case a >= 10 || a <= -10:
		return fmt.Sprintf("%.0f acres", a)
	default:
		return fmt.Sprintf("%.1f acres", a)
	}
}

func (f Finding) sentence() string {
	n := func(one, many string) string {
		if f.Total == 1 {
			return one
		}
		return fmt.Sprintf(many, f.Total)
	}
	switch f.Kind {
	case Repaired:
		return n("One outline crosses itself and was mended.", "%d outlines cross themselves and were mended.")
	case NothingLeft:
		return n("One outline has no area, even mended.", "%d outlines have no area, even mended.")
	case CountyOverlap:
		return n("Two counties lie over each other.", "%d pairs of counties lie over each other.")
	case Overlap:
		return n("Two townships lie over each other.", "%d pairs of townships lie over each other.")
	case Twice:
		return n("One township is there twice.", "%d townships are there twice.")
	case CountyGap:
		return n("One area among the counties is in none; a lake may be meant.", "%d areas among the counties are in none; lakes may be meant.")
	case Gap:
		return n("One part of a county is in no township.", "%d parts of counties are in no township.")
	case Sliver:
		return n("One narrow gap or overlap; two files drawn apart have those.", "%d narrow gaps and overlaps; two files drawn apart have those.")
	case OutsideAll:
		return n("One township is in no county and is left out.", "%d townships are in no county and are left out.")
	case CutOff:
		return n("One township reaches beyond every county and is cut there.", "%d townships reach beyond every county and are cut there.")
	case CutByLine:
		return n("A county line cuts one township: each part is a place of its own.", "County lines cut %d townships: each part is a place of its own.")
	case SmallPart:
		return n("One part that a county line cuts off is under a square kilometer and stays with the rest.",
			"%d parts that county lines cut off are under a square kilometer and stay with the rest.")
	case OverLine:
		return n("One township reaches out of the county that the file names.", "%d townships reach out of the county that the file names.")
	case WrongCounty:
		return n("One township is not in the county that the file names.", "%d townships are not in the county that the file names.")
	case Empty:
		return n("One county has no township.", "%d counties have no township.")
	case Elsewhere:
		return "The townships are not where the counties are; is one of the files in another coordinate system?"
	case NotWhereBefore:
		return "These boundaries are not where those in force are; is it the same state?"
	case OldDatum:
		return "The file is in the datum of 1927, and this computer lacks the grids that turn it into today's exactly: outlines may be off by about ten meters."
	case Lost:
		return n("One place in force is not in the new boundaries; what was sampled there stays with it.",
			"%d places in force are not in the new boundaries; what was sampled there stays with them.")
	case LostWaiting:
		return n("Results wait in one place that the new boundaries do not have: release them first, or give the place its old code.",
			"Results wait in %d places that the new boundaries do not have: release them first, or give the places their old codes.")
	case Moved:
		return n("One code now stands for other ground than before.", "%d codes now stand for other ground than before.")
	case Renamed:
		return n("One place has another code than before and was known again by its ground.",
			"%d places have other codes than before and were known again by their ground.")
	}
	return string(f.Kind) + "."
}
