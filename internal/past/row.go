package past

import (
	"errors"
	"regexp"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/place"
	"sixmile/internal/tabular"
)

// Setup is what the rows of a file go by.
type Setup struct {
	SRID    int            // of the coordinates; 0: nobody has said
	Latest  int            // the newest fall that is over
	Seasons []SeasonDays   // falls whose days the program knows
	Unit    assay.Unit     // of densities whose row and header say none; 0: such rows lack it
	Methods []assay.Method // what a row may name; of one name the highest version is meant
	Scheme  assay.Scheme   // the level table in force, for rows with a level only
}

// SeasonDays are the days of a fall that the program knows.
type SeasonDays struct {
	Year          int
	Opens, Closes time.Time
}

// SeasonOf is the fall that a day belongs to: spring belongs to the fall before.
// Where no known season holds the day, the year turns on July 1.
func (s Setup) SeasonOf(day time.Time) int {
	for _, k := range s.Seasons {
		if !day.Before(k.Opens) && !day.After(k.Closes) {
			return k.Year
		}
	}
	if day.Month() < time.July {
		return day.Year() - 1
	}
	return day.Year()
}

// Point is a coordinate of a row, on its way to a place.
type Point struct{ X, Y float64 }

// row is a row while it is judged. What it holds beside Kept goes with it.
type row struct {
	line     int
	kept     Kept
	point    *Point
	county   place.ID // as the row says; 0: it does not
	farm     string
	strange  bool // names a method that is none of the office's
	problems map[tabular.Field]tabular.Problem
}

func (r *row) note(f tabular.Field, err error) {
	if err == nil {
		return
	}
	p := assay.NotNumber
	errors.As(err, &p)
	if r.problems == nil {
		r.problems = map[tabular.Field]tabular.Problem{}
	}
	if _, there := r.problems[f]; !there {
		r.problems[f] = p
	}
}

// reader turns cells into rows.
type reader struct {
	at        map[tabular.Field]int
	unit      assay.Unit // of the density's header
	values    tabular.Values
	gazetteer *Gazetteer
	with      Setup
	methods   map[string]assay.Method
	levels    map[string]assay.Class
}

func newReader(s *tabular.Sheet, m tabular.Mapping, with Setup, g *Gazetteer) *reader {
	r := &reader{at: map[tabular.Field]int{}, gazetteer: g, with: with, methods: map[string]assay.Method{}, levels: levelNames(with.Scheme)}
	numbers := tabular.Mapping{Columns: make([]tabular.Column, len(m.Columns)), Decimal: m.Decimal}
	for i, c := range m.Columns {
		switch c.Field {
		case "":
			continue
		case tabular.Density, tabular.BulkDensity, X, Y:
			numbers.Columns[i] = c
		}
		r.at[c.Field] = i
		if c.Field == tabular.Density {
			r.unit = c.Unit
		}
	}
	r.values = s.Values(numbers)
	for _, m := range with.Methods {
		if known, there := r.methods[m.Name]; !there || m.Version > known.Version {
			r.methods[m.Name] = m
		}
	}
	return r
}

func (r *reader) cell(cells []string, f tabular.Field) string {
	if i, mapped := r.at[f]; mapped && i < len(cells) {
		return strings.TrimPrefix(cells[i], "'")
	}
	return ""
}

func (r *reader) row(line int, cells []string) row {
	out := row{line: line, farm: tabular.Fold(r.cell(cells, Group))}
	if raw := r.cell(cells, Group); out.farm == "" && raw != "" {
		out.farm = raw // signs only
	}
	out.kept.Season = r.season(&out, cells)
	r.place(&out, cells)
	r.figure(&out, cells)
	if name := r.cell(cells, tabular.Method); name != "" {
		m, known := r.methods[strings.ReplaceAll(tabular.Fold(name), " ", "_")]
		out.kept.Method, out.strange = m, !known
	}
	return out
}

// year finds a fall in what people write: 2019, "Fall 2019", 2019-20.
var year = regexp.MustCompile(`(?:^|\D)((?:19[5-9]|20\d)\d)(?:\D|$)`)

func (r *reader) season(out *row, cells []string) int {
	said, dated := 0, 0
	if text := r.cell(cells, Season); text != "" {
		m := year.FindStringSubmatch(text)
		if m == nil {
			out.note(Season, NotSeason)
			return 0
		}
		said, _ = strconv.Atoi(m[1]) // four digits
		if strings.Contains(strings.ToLower(text), "spring") {
			said--
		}
	}
	if text := r.cell(cells, tabular.Day); text != "" {
		day, err := r.values.Date(text)
		if err != nil {
			out.note(tabular.Day, err)
			return 0
		}
		dated = r.with.SeasonOf(day)
	}
	season := max(said, dated)
	switch {
	case season == 0:
		out.note(Season, assay.Missing)
	case said != 0 && dated != 0 && said != dated:
		out.note(Season, SeasonDisagree)
	case season > r.with.Latest:
		out.note(Season, SeasonOpen)
	}
	return season
}

// place finds the place: by what it is called, else by its coordinates, else the
// county alone.
func (r *reader) place(out *row, cells []string) {
	county, err := r.gazetteer.County(r.cell(cells, County))
	if err != nil && err != errNone {
		out.note(County, err)
	}
	x, y, text := r.cell(cells, X), r.cell(cells, Y), r.cell(cells, Place)
	out.county = county
	switch {
	case text != "":
		spot, err := r.gazetteer.Find(text, county)
		out.note(Place, err)
		out.kept.Spot = spot
	case x != "" || y != "":
		var p Point
		p.X, err = r.values.Coordinate(x)
		out.note(X, err)
		p.Y, err = r.values.Coordinate(y)
		out.note(Y, err)
		if r.with.SRID == 0 {
			out.note(X, NoSystem)
		}
		out.point = &p
	case county != 0:
		out.kept.Spot = Spot{county, county}
	case len(out.problems) == 0 || out.problems[County] == "":
		out.note(Place, assay.Missing)
	}
}

// figure reads a density, else a level.
func (r *reader) figure(out *row, cells []string) {
	cyst, err := tabular.YesNo(r.cell(cells, tabular.Cyst))
	out.note(tabular.Cyst, err)
	density, level := r.cell(cells, tabular.Density), r.cell(cells, Level)
	switch {
	case density != "":
		r.density(out, cells, density, cyst)
	case level != "":
		class, known := r.levels[tabular.Fold(level)]
		if !known {
			out.note(Level, NoLevel)
		}
		out.kept.Reading, out.kept.ClassOnly = StandIn(r.with.Scheme, class), true
	default:
		f := tabular.Density
		if _, mapped := r.at[f]; !mapped {
			f = Level
		}
		out.note(f, assay.Missing)
	}
}

func (r *reader) density(out *row, cells []string, text string, cyst bool) {
	report := assay.Report{CystSeen: cyst}
	var err error
	report.Value, err = r.values.Number(text)
	out.note(tabular.Density, err)
	if report.Unit = r.unit; report.Unit == 0 {
		report.Unit = r.with.Unit
	}
	if cell := r.cell(cells, tabular.UnitField); cell != "" {
		if report.Unit = tabular.UnitOf(cell); report.Unit == 0 {
			out.note(tabular.UnitField, assay.Unknown)
		}
	}
	if report.Unit == 0 {
		out.note(tabular.UnitField, assay.Missing)
	}
	if cell := r.cell(cells, tabular.BulkDensity); cell != "" {
		report.BulkDensity, err = r.values.Number(cell)
		out.note(tabular.BulkDensity, err)
	}
	if len(out.problems) > 0 {
		return
	}
	out.kept.Report = report
	if out.kept.Reading, err = report.Reading(); err == nil {
		return
	}
	var bad *assay.Invalid
	if errors.As(err, &bad) {
		for name, f := range map[string]tabular.Field{"value": tabular.Density, "unit": tabular.UnitField, "bulk_density": tabular.BulkDensity} {
			if p, there := bad.Fields[name]; there {
				out.note(f, p)
			}
		}
	}
}
