package office

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/describe"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// Analysis reads the office's own results, released or not.
type Analysis interface {
	Results(ctx context.Context, county place.ID) ([]describe.Result, error) // of all counties for 0
	Coverage(ctx context.Context, today time.Time) ([]describe.Cover, error)
	Methods(ctx context.Context) (map[int]assay.Method, error) // by the numbers results name them by
}

func (o *office) analysisRoutes() []shell.Route {
	return []shell.Route{{Method: http.MethodGet, Path: "/office/analysis", May: account.SeeWaiting, Handler: o.analysisShow}}
}

// analysisView is the page of the office's own results.
type analysisView struct {
	Counties []choice
	County   string // its name; empty for all
	Season   string
	Small    string
	Long     string
	Cover    []coverRow
	Towns    []townRow
	// Heads of the two tables; that of counties sorts only where it has more than one.
	CoverHeads, TownHeads []shell.ColumnHead
	Tables                []describedTable
	Changed               bool
}

type coverRow struct {
	Name string
	of   describe.CountyCover
}

type townRow struct {
	Name, Last, Results, Waiting, Senders, Lacks string

	of describe.Cover
}

type describedTable struct {
	Head, Caption string
	Methods       bool
	Rows          []describedRow
}

type describedRow struct {
	Name, N, Finds, Quarter, Median, Upper, Ninety, Geometric, Methods string
	Changed                                                            bool
}

func (o *office) analysisShow(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	places, err := o.Program.Places(ctx)
	if err != nil {
		return err
	}
	seasons, err := o.Program.Seasons(ctx)
	if err != nil {
		return err
	}
	season, ok := currentSeason(seasons, o.Today())
	v := analysisView{Counties: []choice{{"", o.Lang.Say("analysis.all"), true}}}
	var county place.Place
	for _, c := range counties(places) {
		chosen := c.Slug == r.URL.Query().Get("county")
		if chosen {
			county, v.County, v.Counties[0].Chosen = c, c.Name, false
		}
		v.Counties = append(v.Counties, choice{c.Slug, c.Name, chosen})
	}
	if ok {
		if err := o.describe(ctx, &v, county, newGazetteer(places), season.Year); err != nil {
			return err
		}
	}
	v.sort(o.Lang, r)
	p := o.page(r, o.Lang.Say("analysis.title"))
	p.Wide = true
	return shell.Render(w, r, http.StatusOK, analysisPage(p, v))
}

// describe fills in the figures.
func (o *office) describe(ctx context.Context, v *analysisView, county place.Place, g gazetteer, season int) error {
	l := o.Lang
	scheme, err := o.Recipes.Scheme(ctx)
	if err != nil {
		return err
	}
	methods, err := o.Analysis.Methods(ctx)
	if err != nil {
		return err
	}
	covers, err := o.Analysis.Coverage(ctx, o.Today())
	if err != nil {
		return err
	}
	results, err := o.Analysis.Results(ctx, county.ID)
	if err != nil {
		return err
	}
	v.Season, v.Long, v.Small = strconv.Itoa(season), l.Say("analysis.coverage.long", "n", describe.LongAgo), l.Count("analysis.small", describe.SmallestCell)
	v.cover(l, covers, county, g, season)
	return v.tables(l, results, scheme, methods)
}

// cover fills in where results are from: a row a county, and of a chosen one a
// row a township.
func (v *analysisView) cover(l *catalog.Lang, covers []describe.Cover, county place.Place, g gazetteer, season int) {
	for _, c := range describe.ByCounty(covers, season) {
		if county.ID != 0 && c.County != county.ID {
			continue
		}
		v.Cover = append(v.Cover, coverRow{g.name(l, c.County), c})
	}
	for _, c := range covers {
		if county.ID == 0 || c.County != county.ID || c.Place == c.County && c.Results == 0 {
			continue
		}
		row := townRow{Name: g.name(l, c.Place), Last: l.Say("analysis.age.never"), Results: l.Number(c.Results), Waiting: l.Number(c.Waiting), of: c}
		if c.Place == c.County {
			row.Name = l.Say("analysis.countyonly")
		}
		if c.Last > 0 {
			row.Last = strconv.Itoa(c.Last)
		}
		var lacks []string
		for _, reason := range c.Lacks {
			lacks = append(lacks, l.SayOf("release.reason", string(reason)))
		}
		if c.Waiting > 0 {
			if row.Senders = l.Number(c.Senders); len(lacks) == 0 {
				row.Senders, lacks = "", []string{l.Say("analysis.goes")}
			}
		}
		row.Lacks = strings.Join(lacks, "; ")
		v.Towns = append(v.Towns, row)
	}
}

// sort sorts the table of counties, or of one county's townships.
func (v *analysisView) sort(l *catalog.Lang, r *http.Request) {
	all, one := readSorting(r, "sort", "coverage"), readSorting(r, "sort", "towns", "county")
	number := func(by shell.Column, label string, of func(coverRow) int) sortColumn[coverRow] {
		if v.County != "" {
			return notSorted[coverRow](label, true)
		}
		return byNumber(by, label, of)
	}
	county := inOrder[coverRow](l.Say("analysis.col.county"), false, false)
	county.fixed = v.County != ""
	v.CoverHeads = arrange(&all, v.Cover, county,
		number("townships", l.Say("analysis.col.townships"), func(r coverRow) int { return r.of.Townships }),
		number("never", l.Say("analysis.col.never"), func(r coverRow) int { return r.of.Never }),
		number("long", l.Say("analysis.col.long"), func(r coverRow) int { return r.of.Long }),
		number("recent", l.Say("analysis.col.recent"), func(r coverRow) int { return r.of.Recent }),
		number("results", l.Say("analysis.col.results"), func(r coverRow) int { return r.of.Results }),
		number("waiting", l.Say("analysis.col.waiting"), func(r coverRow) int { return r.of.Waiting }),
		number("within", l.Say("analysis.col.waitingin"), func(r coverRow) int { return r.of.WaitingTownship }))
	v.TownHeads = arrange(&one, v.Towns,
		inOrder[townRow](l.Say("analysis.col.township"), false, false),
		byMost("last", l.Say("analysis.col.last"), func(r townRow) (float64, bool) { return float64(r.of.Last), r.of.Last > 0 }),
		byNumber("results", l.Say("analysis.col.results"), func(r townRow) int { return r.of.Results }),
		byNumber("waiting", l.Say("analysis.col.waiting"), func(r townRow) int { return r.of.Waiting }),
		byMost("senders", l.Say("analysis.col.senders"), func(r townRow) (float64, bool) { return float64(r.of.Senders), r.Senders != "" }),
		notSorted[townRow](l.Say("analysis.col.lacks"), false))
}

// tables fills in densities by what results have in common.
func (v *analysisView) tables(l *catalog.Lang, results []describe.Result, scheme assay.Scheme, methods map[int]assay.Method) error {
	if len(results) == 0 {
		return nil
	}
	rows, err := describe.BySeason(results, scheme)
	if err != nil {
		return err
	}
	v.Tables = append(v.Tables, describedBy(l, "season", rows, methods, func(k string) string { return k }))
	for _, r := range rows {
		v.Changed = v.Changed || r.Changed
	}
	for _, by := range []struct {
		name string
		keys []string
		key  func(describe.Result) string
	}{
		{"before", sample.Crops, func(r describe.Result) string { return r.Before }},
		{"source", sample.Resistances, func(r describe.Result) string { return r.Source }},
		{"texture", sample.Textures, func(r describe.Result) string { return r.Texture }},
		{"ph", sample.PHs, func(r describe.Result) string { return r.PH }},
	} {
		rows, err := describe.By(results, scheme, by.keys, by.key)
		if err != nil {
			return err
		}
		v.Tables = append(v.Tables, describedBy(l, by.name, rows, methods, func(k string) string {
			if k == "" {
				return l.Say("analysis.nosay")
			}
			return l.SayOf("choice", k)
		}))
	}
	return nil
}

func describedBy(l *catalog.Lang, name string, rows []describe.Row, methods map[int]assay.Method, say func(string) string) describedTable {
	t := describedTable{Head: l.SayOf("analysis.head", name), Caption: l.SayOf("analysis.by", name), Methods: name == "season" || severalMethods(rows)}
	few := l.Say("analysis.few")
	for _, r := range rows {
		row := describedRow{Name: say(r.Key), N: l.Number(r.N), Finds: few, Quarter: few, Median: few, Upper: few, Ninety: few, Geometric: few,
			Methods: methodList(l, r, methods), Changed: r.Changed}
		if r.HasRate {
			row.Finds = l.Say("analysis.finds", "finds", r.Finds, "judged", r.Judged, "share", percent(float64(r.Finds)/float64(r.Judged)),
				"low", percent(r.Share.Low), "high", percent(r.Share.High))
		}
		if r.Densities > 0 {
			row.Quarter, row.Median, row.Upper, row.Ninety = eggs(l, r.Quarter), eggs(l, r.Median), eggs(l, r.Upper), eggs(l, r.Ninety)
		}
		if r.Eggs > 0 {
			row.Geometric = l.Say("analysis.geometric", "mean", eggs(l, r.Geometric), "n", r.Eggs)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// severalMethods tells whether the rows of a table are of more than one method:
// they are then named row by row, for a row that pools two is no series.
func severalMethods(rows []describe.Row) bool {
	seen := map[int]bool{}
	for _, r := range rows {
		for _, m := range r.Methods {
			seen[m] = true
		}
	}
	return len(seen) > 1
}

// methodList names the methods of a row, and says where they changed.
func methodList(l *catalog.Lang, r describe.Row, methods map[int]assay.Method) string {
	var names []string
	for _, id := range r.Methods {
		m, known := methods[id]
		if !known {
			names = append(names, l.Say("analysis.method.unknown"))
			continue
		}
		names = append(names, l.Say("analysis.method", "name", methodName(l, m), "version", strconv.Itoa(m.Version)))
	}
	text := strings.Join(names, "; ")
	if r.Changed {
		return l.Say("analysis.changed", "methods", text)
	}
	return text
}
