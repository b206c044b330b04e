package tally

import (
	"sixmile/internal/annual"
	"sixmile/internal/catalog"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/place"
)

// Sheets are the office's own: bags, falls, what waits, work by method, money.
func (f Figures) Sheets(lang *catalog.Lang, x *gazette.Index) []annual.Sheet[annual.Office] {
	w := writer{lang: lang, x: x, f: f.sorted(), names: names(x)}
	var out []annual.Sheet[annual.Office]
	for _, t := range []annual.Table{w.bags(), w.falls(), w.waits(), w.work(), w.money()} {
		out = append(out, annual.OfficeSheet(t))
	}
	return out
}

type writer struct {
	lang  *catalog.Lang
	x     *gazette.Index
	f     Figures
	names map[place.ID]named
}

// named is a place as its rows have it.
type named struct{ county, countyName, code, name string }

func names(x *gazette.Index) map[place.ID]named {
	out := make(map[place.ID]named)
	for _, c := range x.Issue.Counties {
		out[c.ID] = named{c.Code, c.Name, "", ""}
		for _, t := range c.Townships {
			out[t.ID] = named{c.Code, c.Name, t.Code, t.Name}
		}
	}
	return out
}

func (w writer) column(name string, kind annual.Kind) annual.Column {
	return annual.Column{Name: name, Title: w.lang.SayOf("annual.col", name), About: w.lang.SayOf("annual.about", name), Kind: kind}
}

func (w writer) sum(name string) annual.Column {
	c := w.column(name, annual.Whole)
	c.Sum = true
	return c
}

func (w writer) rate(name, part, whole string) annual.Column {
	c := w.column(name, annual.Share)
	c.Formula = `IF({` + whole + `}>0,{` + part + `}/{` + whole + `},"")`
	return c
}

func (w writer) table(name string, total bool, columns []annual.Column, rows [][]any) annual.Table {
	return annual.Table{Name: name, Title: w.lang.SayOf("annual.sheet", name), About: w.lang.SayOf("annual.sheet.about", name),
		Columns: columns, Total: total, Each: func(see func([]any) error) error {
			for _, r := range rows {
				if err := see(r); err != nil {
					return err
				}
			}
			return nil
		}}
}

func share(part, whole int) any {
	if whole <= 0 {
		return nil
	}
	return float64(part) / float64(whole)
}

func (w writer) bags() annual.Table {
	columns := []annual.Column{w.column("edition", annual.Text), w.column("county_code", annual.Text), w.column("county", annual.Text),
		w.sum("issued"), w.sum("handed_out"), w.sum("returned"), w.sum("counted"), w.sum("signed"), w.sum("on_map"), w.sum("waiting"), w.sum("void"),
		w.rate("returned_rate", "returned", "issued"), w.rate("counted_rate", "counted", "returned"), w.rate("void_rate", "void", "issued")}
	var rows [][]any
	for _, v := range w.x.State().Counties {
		b, _ := w.f.bagsOf(v.ID)
		rows = append(rows, []any{w.code(), v.Code, v.Name, b.Issued, b.HandedOut, b.Returned, b.Counted, b.Signed, b.OnMap, b.InWait, b.Void,
			share(b.Returned, b.Issued), share(b.Counted, b.Returned), share(b.Void, b.Issued)})
	}
	return w.table("bags", true, columns, rows)
}

func (w writer) code() string { return w.x.Issue.Edition.Code }

func (w writer) falls() annual.Table {
	columns := []annual.Column{w.column("edition", annual.Text), w.column("season", annual.Year), w.column("county_code", annual.Text),
		w.column("county", annual.Text), w.sum("samples"), w.sum("counted"), w.sum("signed"), w.sum("on_map"), w.sum("waiting")}
	for _, c := range w.x.Issue.Scheme.Classes {
		name := annual.LevelName(w.lang, c)
		columns = append(columns, annual.Column{Name: annual.LevelColumn(c), Title: w.lang.Say("annual.level", "level", name),
			About: w.lang.Say("annual.level.signed", "level", name), Kind: annual.Whole, Sum: true})
	}
	var rows [][]any
	for _, f := range w.f.Falls {
		n := w.names[f.County]
		row := []any{w.code(), f.Season, n.county, n.countyName, f.Samples, f.Counted, f.Signed, f.OnMap, f.Signed - f.OnMap}
		for _, c := range w.x.Issue.Scheme.Classes {
			row = append(row, f.Readings[c.Rank])
		}
		rows = append(rows, row)
	}
	return w.table("falls", true, columns, rows)
}

func (w writer) waits() annual.Table {
	columns := []annual.Column{w.column("edition", annual.Text), w.column("county_code", annual.Text), w.column("county", annual.Text),
		w.column("township_code", annual.Text), w.column("township", annual.Text), w.column("season", annual.Year), w.sum("waiting")}
	var rows [][]any
	for _, f := range w.f.Waits {
		n, known := w.names[f.Place]
		if !known {
			n = w.names[f.County]
		}
		rows = append(rows, []any{w.code(), n.county, n.countyName, n.code, n.name, f.Season, f.Samples})
	}
	return w.table("waiting", true, columns, rows)
}

func (w writer) work() annual.Table {
	columns := []annual.Column{w.column("edition", annual.Text), w.column("season", annual.Year), w.column("method", annual.Text),
		w.column("version", annual.Year), w.sum("results"), w.sum("signed")}
	var rows [][]any
	for _, f := range w.f.Work {
		rows = append(rows, []any{w.code(), f.Season, f.Method.Name, f.Method.Version, f.Results, f.Signed})
	}
	return w.table("work", true, columns, rows)
}

// money is what was counted first, then the invoices, then what is left over.
func (w writer) money() annual.Table {
	fee := w.column("fee", annual.Money)
	due := w.column("due", annual.Money)
	due.Formula = "{bill_bags}*{fee}"
	over := w.column("over", annual.Money)
	over.Formula = "{asked}-{due}"
	columns := []annual.Column{w.column("edition", annual.Text), w.column("line", annual.Text), w.column("label", annual.Text),
		w.column("bill_bags", annual.Whole), fee, due, w.column("asked", annual.Money), over}
	m := w.f.Bill.Match(w.f.Counted())
	price := w.f.Bill.Fee
	line := func(key, label string, bags int, asked money.Cents) []any {
		due := price.Times(bags)
		return []any{w.code(), w.lang.SayOf("annual.line", key), label, bags, annual.Dollars(price), annual.Dollars(due), annual.Dollars(asked), annual.Dollars(asked - due)}
	}
	var rows [][]any
	for _, i := range w.f.Bill.Invoices {
		rows = append(rows, line("invoice", i.Label, i.Bags, i.Amount))
	}
	rows = append(rows, line("billed", "", m.Billed, m.Asked), line("counted", "", m.Counted, m.Asked))
	return w.table("money", false, columns, rows)
}
