package past

import (
	"maps"
	"slices"
	"strconv"

	"sixmile/internal/assay"
	"sixmile/internal/tabular"
)

// The fields beside those that a day's counts have too.
const (
	Season tabular.Field = "season"
	Place  tabular.Field = "place"
	County tabular.Field = "county"
	X      tabular.Field = "x" // east, longitude
	Y      tabular.Field = "y" // north, latitude
	Level  tabular.Field = "level"
	Group  tabular.Field = "group"
)

// Fields lists what a column may hold, in the order of a template.
func Fields() []tabular.Field {
	return []tabular.Field{Season, tabular.Day, County, Place, X, Y, tabular.Density, tabular.UnitField, tabular.BulkDensity, Level, tabular.Cyst, tabular.Method, Group}
}

// headers are what offices write over their columns, folded. Common practice;
// no source.
func headers() tabular.Memory {
	out := tabular.Memory{}
	for field, names := range map[tabular.Field][]string{
		Season:            {"season", "year", "fall", "fall of", "crop year", "sample year", "sampling year", "year sampled"},
		tabular.Day:       {"date", "day", "sample date", "sampling date", "date sampled", "sampled", "collected", "date collected", "date received"},
		Place:             {"place", "township", "twp", "legal", "legal description", "location", "trs", "plss", "plss id", "township name", "township code", "twp rge", "township range"},
		County:            {"county", "co", "county name"},
		X:                 {"x", "longitude", "long", "lon", "lng", "easting", "utm x", "utm e", "utm easting", "east", "x coord", "x coordinate"},
		Y:                 {"y", "latitude", "lat", "northing", "utm y", "utm n", "utm northing", "north", "y coord", "y coordinate"},
		tabular.Density:   {"eggs", "egg count", "count", "scn", "scn count", "scn eggs", "density", "egg density", "result", "eggs reported"},
		tabular.UnitField: {"unit", "units", "per", "density unit"},
		Level:             {"level", "class", "rating", "category", "risk", "risk level", "scn level"},
		tabular.Cyst:      {"cyst", "cysts", "cyst seen", "cysts seen"},
		tabular.Method:    {"method", "recipe", "procedure", "lab method", "extraction"},
		Group:             {"group", "farm", "farm id", "grower", "grower id", "grower no", "sender", "operation", "client", "client id", "customer"},
	} {
		for _, name := range names {
			out[name] = tabular.Column{Field: field}
		}
	}
	return out
}

// Open recognizes a file and finds its header. remembered is what the office has
// said of headers before. The error is a *tabular.FileError.
func Open(data []byte, remembered tabular.Memory) (*tabular.Sheet, error) {
	memory := headers()
	maps.Copy(memory, remembered)
	return tabular.Open(data, memory)
}

// Guess maps the columns of a sheet; what only a file of counts has is left out.
func Guess(s *tabular.Sheet) tabular.Mapping {
	m := s.Guess()
	for i, c := range m.Columns {
		if !slices.Contains(Fields(), c.Field) {
			m.Columns[i] = tabular.Column{}
		}
	}
	return m
}

// Remembered is what is to be remembered of a mapping: all it says of the
// sheet's headers, and what was remembered before.
func Remembered(s *tabular.Sheet, m tabular.Mapping, before tabular.Memory) tabular.Memory {
	out := maps.Clone(before)
	if out == nil {
		out = tabular.Memory{}
	}
	for i, header := range s.Headers {
		if folded := tabular.Fold(header); folded != "" && i < len(m.Columns) {
			out[folded] = m.Columns[i]
		}
	}
	return out
}

// Check returns an *assay.Invalid for a mapping by which no row can be read. Its
// fields are season, place and figure, for what no column holds, and columns.3,
// numbered from zero, for a field that is not one (Unknown) or is there twice
// (Doubled), or for a coordinate without the other (Missing).
func Check(m tabular.Mapping) error {
	found := map[string]assay.Problem{}
	at := map[tabular.Field]int{}
	for i, c := range m.Columns {
		field := "columns." + strconv.Itoa(i)
		if c.Field == "" {
			continue
		}
		_, twice := at[c.Field]
		switch {
		case !slices.Contains(Fields(), c.Field):
			found[field] = assay.Unknown
		case twice:
			found[field] = assay.Doubled
		default:
			at[c.Field] = i
		}
	}
	has := func(fields ...tabular.Field) bool {
		return slices.ContainsFunc(fields, func(f tabular.Field) bool { _, there := at[f]; return there })
	}
	for name, ok := range map[string]bool{
		"season": has(Season, tabular.Day),
		"place":  has(Place, County, X, Y),
		"figure": has(tabular.Density, Level),
	} {
		if !ok {
			found[name] = assay.Missing
		}
	}
	if has(X) != has(Y) {
		for _, f := range []tabular.Field{X, Y} {
			if i, there := at[f]; there {
				found["columns."+strconv.Itoa(i)] = assay.Missing
			}
		}
	}
	if len(found) > 0 {
		return &assay.Invalid{Fields: found}
	}
	return nil
}
