// Package tally is the office's side of the annual summary: bags, waiting
// results and money as they are. Its sheets are the office's alone; what a sponsor
// gets of them goes through annual.About.
package tally

import (
	"cmp"
	"errors"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"sixmile/internal/annual"
	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/place"
)

// Bags is how far a county's bags of the period have come. Of a season they are
// the bags issued for it. Of a fiscal year each step is counted by its own day,
// and so bags handed out, signed, released or void are those of lots issued in it.
type Bags struct {
	County                                                            place.ID
	Issued, HandedOut, Returned, Counted, Signed, Void, OnMap, InWait int
}

// Fall is the samples of a county and a season, whatever has become of them.
type Fall struct {
	County                          place.ID
	Season                          int
	Samples, Counted, Signed, OnMap int
	Readings                        map[int]int // signed results by the rank of the edition's level table
}

// Waits is results that are signed and on no map, by the place they are of.
type Waits struct {
	Place   place.ID // a township, or a county where no township is known
	County  place.ID
	Season  int
	Samples int
}

// Work is how much was counted by a method.
type Work struct {
	Method  assay.Method
	Season  int
	Results int // that stand
	Signed  int
}

// Figures are the office's, exact, as of a day.
type Figures struct {
	Bags  []Bags
	Falls []Fall
	Waits []Waits
	Work  []Work
	Bill  Bill
}

// Bill is what the lab asks for, against what was counted.
type Bill struct {
	Fee      money.Cents // for a bag counted; 0: not known
	Invoices []Invoice
}

// Invoice is one of the lab's.
type Invoice struct {
	Label  string // the lab's number of it
	Bags   int
	Amount money.Cents
}

// Match is a bill set against the bags that were counted.
type Match struct {
	Counted, Billed  int
	BagsOver         int         // billed less counted
	Due, Asked       money.Cents // counted times the fee; the invoices together
	Over             money.Cents // asked less due
	FeeKnown, Agrees bool
	// Wrong are invoices whose amount is not their bags times the fee.
	Wrong []Invoice
}

// Match sets the bill against so many bags counted.
func (b Bill) Match(counted int) Match {
	m := Match{Counted: counted, FeeKnown: b.Fee > 0}
	for _, i := range b.Invoices {
		m.Billed += i.Bags
		m.Asked += i.Amount
		if b.Fee > 0 && b.Fee.Times(i.Bags) != i.Amount {
			m.Wrong = append(m.Wrong, i)
		}
	}
	m.Due = b.Fee.Times(counted)
	m.BagsOver, m.Over = m.Billed-m.Counted, m.Asked-m.Due
	m.Agrees = m.FeeKnown && len(b.Invoices) > 0 && m.BagsOver == 0 && m.Over == 0 && len(m.Wrong) == 0
	return m
}

// Counted is how many bags of the period were counted.
func (f Figures) Counted() (n int) {
	for _, b := range f.Bags {
		n += b.Counted
	}
	return n
}

// ForSponsor rounds. Bags that came back are told of counties that have a public
// fall figure, where five or more senders took part; as with that figure, five and
// what the map shows of the fall are the least a reader knows to have come back. The
// edition has figures of its own fall alone: where that is not of the period, neither
// bags that came back nor bags counted are told, since they would be of two years.
func (f Figures) ForSponsor(x *gazette.Index, p annual.Period) []annual.SponsorCounty {
	var out []annual.SponsorCounty
	for _, v := range x.State().Counties {
		row := annual.SponsorCounty{County: v.ID}
		told := v.HasFall && p.HoldsFall(v.Fall.Season)
		if told {
			row.Counted = annual.FallOf(v)
		}
		b, ok := f.bagsOf(v.ID)
		if ok {
			row.Issued = annual.About(b.Issued, 0)
		}
		if ok && told {
			row.Returned = annual.About(b.Returned, max(5, onMap(x, v)))
		}
		out = append(out, row)
	}
	return out
}

func (f Figures) bagsOf(county place.ID) (Bags, bool) {
	i := slices.IndexFunc(f.Bags, func(b Bags) bool { return b.County == county })
	if i < 0 {
		return Bags{}, false
	}
	return f.Bags[i], true
}

// onMap is how many bags of the fall alone the map shows of a county.
func onMap(x *gazette.Index, v *gazette.CountyView) (n int) {
	for _, t := range edition.OfFall(edition.OfCounty(x.Issue.Tranches, v.ID), v.Fall.Season) {
		n += t.Samples
	}
	return n
}

// sorted orders the figures, so that the same ones give the same sheets.
func (f Figures) sorted() Figures {
	f.Bags, f.Falls, f.Waits, f.Work = slices.Clone(f.Bags), slices.Clone(f.Falls), slices.Clone(f.Waits), slices.Clone(f.Work)
	slices.SortFunc(f.Falls, func(a, b Fall) int { return cmp.Or(cmp.Compare(a.Season, b.Season), cmp.Compare(a.County, b.County)) })
	slices.SortFunc(f.Waits, func(a, b Waits) int {
		return cmp.Or(cmp.Compare(a.County, b.County), cmp.Compare(a.Place, b.Place), cmp.Compare(a.Season, b.Season))
	})
	slices.SortFunc(f.Work, func(a, b Work) int {
		return cmp.Or(cmp.Compare(a.Season, b.Season), cmp.Compare(a.Method.Name, b.Method.Name), cmp.Compare(a.Method.Version, b.Method.Version))
	})
	return f
}

// ErrInvoice: it is not NUMBER:BAGS:AMOUNT.
var ErrInvoice = errors.New("write an invoice as its number, its bags and its amount, such as 2026-114:350:7000.00")

// ParseInvoice reads an invoice written as NUMBER:BAGS:AMOUNT. The number may hold
// colons.
func ParseInvoice(s string) (Invoice, error) {
	rest, amount, ok := cutLast(s)
	if !ok {
		return Invoice{}, ErrInvoice
	}
	label, bags, ok := cutLast(rest)
	if !ok {
		return Invoice{}, ErrInvoice
	}
	n, err := strconv.Atoi(strings.TrimSpace(bags))
	if err != nil || n < 0 || n > MostBilled {
		return Invoice{}, ErrInvoice
	}
	cents, err := money.Parse(amount)
	if err != nil {
		return Invoice{}, ErrInvoice
	}
	if label = strings.TrimSpace(label); label == "" || len(label) > 60 || !utf8.ValidString(label) || strings.ContainsFunc(label, unicode.IsControl) {
		return Invoice{}, ErrInvoice
	}
	return Invoice{Label: label, Bags: n, Amount: cents}, nil
}

// MostBilled is the most bags that one invoice may be for.
const MostBilled = 1_000_000

func cutLast(s string) (before, after string, found bool) {
	i := strings.LastIndexByte(s, ':')
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+1:], true
}
