// Package gazette is an edition as its readers get it: everything the public
// pages, maps and exports of one edition are made from, and nothing else. An
// Issue is loaded once an edition and never changes, so a page is a pure
// function of it.
//
// Every figure here is a sum of whole tranches. There is no sample in this
// package and no way to get one.
package gazette

import (
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// Edition is what a reader sees of an edition's making.
type Edition struct {
	Number   int
	Code     string // printed on every map, such as K7QF-2M
	Kind     edition.MetaKind
	Season   int
	Cutoff   time.Time
	Released time.Time
	K        int
}

// Township is a place with its outline.
type Township struct {
	place.Place
	District  place.ID
	Outline   atlas.Shape
	Neighbors []place.ID // townships that share a boundary, of other counties too
}

// District is a district with the outline of all its townships together.
type District struct {
	ID      place.ID
	County  place.ID
	Outline atlas.Shape
}

// County is a county with its townships, in the order of their codes.
type County struct {
	place.Place
	Outline   atlas.Shape
	Townships []Township
	Districts []District
	Neighbors []place.ID // counties that share a boundary
}

// Town is a town of a reference layer.
type Town struct {
	Name string
	At   atlas.Point
	Rank int // 1 before 2 where there is no room for both
}

// Issue is one edition, whole.
type Issue struct {
	Edition  Edition
	Scheme   assay.Scheme
	Counties []County // by name
	Outline  atlas.Shape
	Rivers   []atlas.Line
	Roads    []atlas.Line
	Ridge    atlas.Shape
	Towns    []Town
	// Editions are this one and those before it that stand, oldest first.
	Editions []Edition
	// Methods are the lab's, oldest first: what "none found" is worth.
	Methods []assay.Method

	// CountedBy are the methods behind what each edition added to each county.
	CountedBy []CountedBy

	// Tranches are those of this edition and of all before it that stand, as
	// counted in this edition's levels.
	Tranches []edition.Tranche
	Falls    []edition.FallFigure
	// Recalled are the townships that had figures, of their own or joined, since
	// taken back: with their edition or alone.
	Recalled []place.ID
}

// Ranks is the scheme as the counting sees it.
func (i *Issue) Ranks() edition.Ranks { return Ranks(i.Scheme) }

// Ranks turns a scheme into the kinds of its classes, lowest first.
func Ranks(s assay.Scheme) edition.Ranks {
	out := make(edition.Ranks, len(s.Classes))
	for i, c := range s.Classes {
		switch c.Kind {
		case assay.None:
			out[i] = edition.ClassNone
		case assay.Unconfirmed:
			out[i] = edition.ClassUnconfirmed
		default:
			out[i] = edition.ClassFound
		}
	}
	return out
}
