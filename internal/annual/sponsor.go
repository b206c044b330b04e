package annual

import (
	"sixmile/internal/catalog"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/place"
)

// Rounded is a number that went through About, or one that is not told. There is
// no way to make one that is exact.
type Rounded struct {
	n    int
	told bool
}

// About rounds as fall figures are rounded (edition.About): to the nearest five,
// and one step up where a reader who knows that it is at least atLeast could
// otherwise narrow it down to fewer than five numbers.
func About(n, atLeast int) Rounded { return Rounded{edition.About(n, atLeast), true} }

// Number is the rounded number; false where it is not told.
func (r Rounded) Number() (int, bool) { return r.n, r.told }

// dollars is the rounded number times a fee: money no finer than the bags.
func (r Rounded) dollars(fee money.Cents) any {
	if !r.told || fee <= 0 {
		return nil
	}
	return Dollars(fee.Times(r.n))
}

func (r Rounded) cell() any {
	if !r.told {
		return nil
	}
	return r.n
}

// SponsorCounty is what a sponsor is told of a county beside the public figures.
type SponsorCounty struct {
	County                    place.ID
	Issued, Returned, Counted Rounded
}

// FallOf is the public fall figure of a county as a rounded number: "counted" of
// a sponsor's copy is this and nothing else.
func FallOf(v *gazette.CountyView) Rounded { return Rounded{v.Fall.Samples, v.HasFall} }

// SponsorSheet is bags and money by county, rounded. A fee of zero leaves the
// money out. Totals add up what is told, so that no county can be had by
// taking the others from a total.
func SponsorSheet(lang *catalog.Lang, b Book[Public], rows []SponsorCounty, fee money.Cents) Sheet[Sponsor] {
	w := writer{lang: lang, x: b.index, period: b.Period}
	t := w.table("sponsor")
	t.Columns = []Column{w.column("edition", Text), w.column("county_code", Text), w.column("county", Text),
		w.sum("issued_about"), w.sum("returned_about"), w.sum("counted_about")}
	if fee > 0 {
		c := w.column("cost_about", Money)
		c.Sum = true
		t.Columns = append(t.Columns, c)
	}
	byID := make(map[place.ID]SponsorCounty, len(rows))
	for _, r := range rows {
		byID[r.County] = r
	}
	var out [][]any
	for _, v := range b.index.State().Counties {
		r := byID[v.ID]
		row := []any{w.code(), v.Code, v.Name, r.Issued.cell(), r.Returned.cell(), r.Counted.cell()}
		if fee > 0 {
			row = append(row, r.Counted.dollars(fee))
		}
		out = append(out, row)
	}
	t.Each, t.Total = fixed(out), true
	return Sheet[Sponsor]{t: t}
}
