package annual

import (
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// ForPublic works the public book out from an edition and nothing else. What it
// says of the period is which of the figures were new in it.
func ForPublic(lang *catalog.Lang, x *gazette.Index, p Period) (Book[Public], error) {
	w := writer{lang: lang, x: x, period: p}
	added, err := w.added()
	if err != nil {
		return Book[Public]{}, err
	}
	tables := []Table{w.counties(added), w.townships(), w.groups(), w.rounds(), w.editions(), w.levels(), w.methods()}
	b := Book[Public]{Period: p, index: x}
	for _, t := range tables {
		b.sheets = append(b.sheets, Sheet[Public]{t: t})
	}
	return b, nil
}

// writer words an edition's figures.
type writer struct {
	lang   *catalog.Lang
	x      *gazette.Index
	period Period
}

func (w writer) scheme() assay.Scheme { return w.x.Issue.Scheme }

// column is one of the catalog's: annual.col has its title and annual.about what
// it means.
func (w writer) column(name string, kind Kind) Column {
	return Column{Name: name, Title: w.lang.SayOf("annual.col", name), About: w.lang.SayOf("annual.about", name), Kind: kind}
}

func (w writer) sum(name string) Column {
	c := w.column(name, Whole)
	c.Sum = true
	return c
}

// LevelName is what people call a class. A class of the office's own table has no
// sentence, and its key is readable.
func LevelName(l *catalog.Lang, c assay.Class) string {
	if l.Has("level." + c.Name) {
		return l.SayOf("level", c.Name)
	}
	return strings.ReplaceAll(c.Name, "_", " ")
}

// level is a level in words, "" where there are no figures.
func (w writer) level(l gazette.Level) string {
	c, known := l.Class(w.scheme())
	switch {
	case !known:
		return ""
	case !l.Exact:
		return w.lang.Say("legend.atleast", "level", LevelName(w.lang, c))
	}
	return LevelName(w.lang, c)
}

// falls is the falls a sum is from.
func (w writer) falls(f gazette.Window) string {
	year := strconv.Itoa(f.Through)
	switch {
	case f.Through == 0:
		return ""
	case f.Only:
		return year
	}
	return w.lang.Say("annual.upto", "year", year)
}

// bagColumns are the numbers of bags of a sum: the levels add up to the bags.
func (w writer) bagColumns() []Column {
	out := []Column{w.sum("bags")}
	for _, c := range w.scheme().Classes {
		switch c.Kind {
		case assay.None:
			out = append(out, w.sum("none_found"))
		case assay.Unconfirmed:
			out = append(out, w.sum("unconfirmed"))
		default:
			name := LevelName(w.lang, c)
			out = append(out, Column{Name: "level_" + plainName(c.Name), Title: w.lang.Say("annual.level", "level", name),
				About: w.lang.Say("annual.level.about", "level", name, "span", Span(w.lang, w.scheme(), c)), Kind: Whole, Sum: true})
		}
	}
	out = append(out, w.sum("level_not_shown"))
	with := w.sum("with_eggs")
	with.Formula = "{bags}-{none_found}-{unconfirmed}"
	if w.has(assay.Unconfirmed) == 0 {
		with.Formula = "{bags}-{none_found}"
	}
	return append(out, with)
}

func (w writer) has(k assay.Kind) (n int) {
	for _, c := range w.scheme().Classes {
		if c.Kind == k {
			n++
		}
	}
	return n
}

// bags are the values of bagColumns; nothing at all where there are no figures.
func (w writer) bags(f edition.Figures) []any {
	n := len(w.scheme().Classes) + 3
	out := make([]any, 0, n)
	if f.Tranches == 0 {
		return make([]any, n)
	}
	out = append(out, f.Samples)
	for i, c := range w.scheme().Classes {
		switch c.Kind {
		case assay.None:
			out = append(out, f.None)
		case assay.Unconfirmed:
			out = append(out, f.Unconfirmed)
		default:
			out = append(out, f.Counts[i])
		}
	}
	return append(out, f.CoarseFinds, f.Finds)
}

// Span is the densities of a class in whole eggs, as such tables are printed.
func Span(l *catalog.Lang, s assay.Scheme, c assay.Class) string {
	found := s.Found()
	for i, f := range found {
		if f.Rank != c.Rank {
			continue
		}
		open := i == len(found)-1
		switch {
		case i == 0 && open:
			return l.Say("legend.any")
		case i == 0:
			return l.Say("legend.upto", "to", int(f.Upper))
		case open:
			return l.Say("legend.over", "from", int(found[i-1].Upper))
		}
		return l.Say("legend.between", "from", int(found[i-1].Upper)+1, "to", int(f.Upper))
	}
	return ""
}

// plainName keeps small letters, digits and underscores.
func plainName(s string) string {
	return strings.Map(func(r rune) rune {
		if 'a' <= r && r <= 'z' || '0' <= r && r <= '9' || r == '_' {
			return r
		}
		return '_'
	}, strings.ToLower(s))
}

func (w writer) table(name string) Table {
	return Table{Name: name, Title: w.lang.SayOf("annual.sheet", name), About: w.lang.SayOf("annual.sheet.about", name)}
}

// code is the first value of every row: which edition it is of.
func (w writer) code() string { return w.x.Issue.Edition.Code }

// counties is a row a county.
func (w writer) counties(added map[place.ID]edition.Figures) Table {
	t := w.table("counties")
	t.Columns = append(t.Columns, w.column("edition", Text), w.column("county_code", Text), w.column("county", Text),
		w.sum("townships"), w.sum("townships_shown"), w.sum("townships_with_eggs"))
	t.Columns = append(t.Columns, w.bagColumns()...)
	sure, share := w.sum("sure"), w.column("share", Share)
	sure.Formula = "{none_found}+{with_eggs}"
	share.Formula = `IF({sure}>0,{with_eggs}/{sure},"")`
	t.Columns = append(t.Columns, sure, share, w.column("share_low", Share), w.column("share_high", Share),
		w.column("highest_level", Text), w.column("typical_level", Text), w.column("falls", Text),
		w.column("fall", Year), w.column("fall_bags", Whole), w.column("fall_eggs", Whole),
		w.sum("new_bags"), w.sum("new_with_eggs"), w.sum("taken_back"))
	views := w.x.State().Counties
	for _, v := range views {
		t.Places = append(t.Places, v.ID)
	}
	t.Drawn, t.Total = place.County, true
	t.Each = func(see func([]any) error) error {
		for _, v := range views {
			if err := see(w.county(v, added[v.ID])); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}

func (w writer) county(v *gazette.CountyView, added edition.Figures) []any {
	row := []any{w.code(), v.Code, v.Name, len(v.Areas), v.Shown, v.WithFinds}
	row = append(row, w.bags(v.Figures)...)
	var sure, share, low, high, typical, fall, bags, eggs any
	if v.HasFigures() {
		sure = v.Judged()
	}
	if v.HasShare {
		share, low, high = float64(v.Finds)/float64(v.Judged()), rounded(v.Share.Interval.Low), rounded(v.Share.Interval.High)
	}
	if l, known := gazette.Typical(v.Figures); known {
		typical = w.level(l)
	}
	if v.HasFall {
		fall, bags, eggs = v.Fall.Season, v.Fall.Samples, v.Fall.Finds
	}
	return append(row, sure, share, low, high, w.level(v.Level), typical, w.falls(v.Window), fall, bags, eggs,
		added.Samples, added.Finds, v.Recalled)
}

// rounded keeps four digits of a share: more would be of the machine.
func rounded(f float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(f, 'f', 4, 64), 64)
	return r
}

// LevelColumn is the name of the column of a class.
func LevelColumn(c assay.Class) string {
	switch c.Kind {
	case assay.None:
		return "none_found"
	case assay.Unconfirmed:
		return "unconfirmed"
	}
	return "level_" + plainName(c.Name)
}
