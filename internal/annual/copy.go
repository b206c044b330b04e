// Package annual is the summary of a year as tables: what goes into a workbook,
// into CSV files and onto maps. There are three copies of it, and a type for each:
//
//   - Public is worked out from an edition alone (a gazette.Index). No other
//     package can make a sheet of it, and this one cannot import anything that has
//     a sample, a bag or a count in it: the table of imports sees to that.
//   - Sponsor is the public sheets, and numbers of bags and money that went
//     through About: rounded as fall figures are, and nothing finer.
//   - Office is all of it exact, and every sheet, file and page says that it is
//     not for release.
//
// A Book of one copy does not take a Sheet of another: the compiler refuses. What
// was made for the office cannot be written as the public's by a wrong flag,
// because there is no flag.
package annual

import (
	"time"

	"sixmile/internal/gazette"
	"sixmile/internal/money"
)

// Public, Sponsor and Office mark whose copy something is part of.
type (
	Public  struct{}
	Sponsor struct{}
	Office  struct{}
)

// Copy is one of the three.
type Copy interface{ Public | Sponsor | Office }

// Name of a copy, as it stands in file names and in commands.
type Name string

// The names.
const (
	PublicName  Name = "public"
	SponsorName Name = "sponsor"
	OfficeName  Name = "office"
)

// Names lists them, the most open first.
var Names = []Name{PublicName, SponsorName, OfficeName}

// NameOf is the name of a copy.
func NameOf[C Copy]() Name {
	switch any(*new(C)).(type) {
	case Public:
		return PublicName
	case Sponsor:
		return SponsorName
	}
	return OfficeName
}

// Sheet is a table of a copy. Only what is made for the copy becomes one, and it
// cannot be converted to a sheet of another: the empty array of C sets them apart.
type Sheet[C Copy] struct {
	_ [0]C
	t Table
}

// Table is what the sheet holds, to be written.
func (s Sheet[C]) Table() Table { return s.t }

// OfficeSheet makes a sheet that only the office's copy takes.
func OfficeSheet(t Table) Sheet[Office] {
	t.Restricted = true
	return Sheet[Office]{t: t}
}

// Book is a copy, whole.
type Book[C Copy] struct {
	Period Period
	index  *gazette.Index
	sheets []Sheet[C]
}

// Index is the edition that the book is of: maps and texts are made from it.
func (b Book[C]) Index() *gazette.Index { return b.index }

// Edition is what the book says it was made from.
func (b Book[C]) Edition() gazette.Edition { return b.index.Issue.Edition }

// Name is the copy's.
func (b Book[C]) Name() Name { return NameOf[C]() }

// Tables lists what is to be written, in order.
func (b Book[C]) Tables() []Table {
	out := make([]Table, 0, len(b.sheets))
	for _, s := range b.sheets {
		out = append(out, s.t)
	}
	return out
}

// ForSponsor is the public book with sheets of rounded figures after it.
func ForSponsor(b Book[Public], own ...Sheet[Sponsor]) Book[Sponsor] {
	return Book[Sponsor]{b.Period, b.index, append(widened[Sponsor](b.sheets), own...)}
}

// ForOffice is the public book with the office's sheets after it.
func ForOffice(b Book[Public], own ...Sheet[Office]) Book[Office] {
	return Book[Office]{b.Period, b.index, append(widened[Office](b.sheets), own...)}
}

// widened takes public sheets into a copy that fewer people see. The other way
// there is no function.
func widened[C Sponsor | Office](sheets []Sheet[Public]) []Sheet[C] {
	out := make([]Sheet[C], 0, len(sheets))
	for _, s := range sheets {
		out = append(out, Sheet[C]{t: s.t})
	}
	return out
}

// Period is the year that a summary is of: a season, or a fiscal year.
type Period struct {
	Fiscal   bool
	Year     int // the season's, or the one in which the fiscal year ends
	From, To time.Time
}

// FiscalYear is a fiscal year as a period.
func FiscalYear(c money.Calendar, y money.Year) Period {
	from, to := c.Days(y)
	return Period{Fiscal: true, Year: int(y), From: from, To: to}
}

// Open tells whether the period is not over on a day: its figures still move.
func (p Period) Open(on time.Time) bool { return !on.After(p.To) }

// HoldsFall tells whether a fall is of the period: of a season its own, of a fiscal
// year the one whose first of November is in it, when soil is on its way whichever
// month the year begins in.
func (p Period) HoldsFall(season int) bool {
	if !p.Fiscal {
		return season == p.Year
	}
	middle := time.Date(season, time.November, 1, 0, 0, 0, 0, time.UTC)
	return !middle.Before(p.From) && !middle.After(p.To)
}

// Adds tells whether an edition's new figures belong to the period: those of its
// season, or those released in the fiscal year.
func (p Period) Adds(e gazette.Edition) bool {
	if p.Fiscal {
		return !e.Released.Before(p.From) && !e.Released.After(p.To)
	}
	return e.Season == p.Year
}
