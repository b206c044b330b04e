package parcel

import (
	"math"
	"strconv"
	"time"

	"sixmile/internal/annual"
	"sixmile/internal/money"
	"sixmile/internal/press"
)

// ownColumns are those of a table that the report has room for. Tables of public
// figures have parts of their own.
var ownColumns = map[string][]string{
	"sponsor": {"county", "issued_about", "returned_about", "counted_about", "cost_about"},
	"bags":    {"county", "issued", "handed_out", "returned", "counted", "signed", "on_map", "waiting", "void", "returned_rate", "counted_rate"},
	"falls":   {"county", "season", "samples", "counted", "signed", "on_map", "waiting"},
	"work":    {"method", "version", "season", "results", "signed"},
	"money":   {"line", "label", "bill_bags", "fee", "due", "asked", "over"},
}

// ownPart is a table that only this copy has, as a page.
func (w words) ownPart(t annual.Table) (press.Part, bool) {
	names, own := ownColumns[t.Name]
	if !own {
		return press.Part{}, false
	}
	out := press.Part{Turn: t.Name == "bags" || t.Name == "sponsor" || t.Name == "work", Section: press.Section{Head: t.Title, Paras: []string{t.About}}}
	var at []int
	for _, n := range names {
		if i := t.Column(n); i >= 0 {
			at = append(at, i)
			out.Table.Head = append(out.Table.Head, t.Columns[i].Title)
		}
	}
	sums, left := make([]float64, len(t.Columns)), 0
	err := t.Each(func(row []any) error {
		for i, v := range row {
			switch v := v.(type) {
			case int:
				sums[i] += float64(v)
			case float64:
				sums[i] += v
			}
		}
		if len(out.Table.Rows) == mostRows {
			left++
			return nil
		}
		cells := make([]string, len(at))
		for k, i := range at {
			cells[k] = w.cell(t.Columns[i], row[i])
		}
		out.Table.Rows = append(out.Table.Rows, cells)
		return nil
	})
	if err != nil {
		return press.Part{}, false
	}
	if t.Total {
		cells := []string{w.say("annual.book.total")}
		for _, i := range at[1:] {
			cells = append(cells, w.total(t, i, sums))
		}
		out.Table.Rows = append(out.Table.Rows, cells)
	}
	out.Small = w.more(left)
	return out, true
}

// total is what closes a column: a sum, or a share of two sums.
func (w words) total(t annual.Table, i int, sums []float64) string {
	c := t.Columns[i]
	names := c.Names()
	switch {
	case c.Sum && c.Kind == annual.Money:
		return w.cell(c, sums[i])
	case c.Sum:
		return w.cell(c, int(sums[i]))
	case c.Kind == annual.Share && len(names) == 3 && sums[t.Column(names[0])] > 0:
		return w.cell(c, sums[t.Column(names[1])]/sums[t.Column(names[0])])
	}
	return ""
}

// cell is a value as people read it.
func (w words) cell(c annual.Column, v any) string {
	switch v := v.(type) {
	case string:
		return v
	case int:
		if c.Kind == annual.Year {
			return strconv.Itoa(v)
		}
		return w.Lang.Number(v)
	case float64:
		switch c.Kind {
		case annual.Share:
			return w.percent(int(100*v + 0.5))
		case annual.Money:
			return money.Cents(math.Round(100 * v)).String()
		}
		return strconv.FormatFloat(v, 'f', -1, 64)
	case time.Time:
		return w.Lang.Date(v)
	}
	return w.say("map.dash")
}
