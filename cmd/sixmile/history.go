package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/geofile"
	"sixmile/internal/past"
	"sixmile/internal/postgres"
	"sixmile/internal/tabular"
)

type historyCommand struct {
	Load historyLoadCommand `cmd:"" help:"Take in a file of past results, CSV or XLSX: all rows or none. Dates, coordinates and farms are read and forgotten."`
}

type historyLoadCommand struct {
	database
	File   string            `arg:"" help:"The file." type:"existingfile"`
	CRS    string            `help:"Coordinate system of its coordinates, such as EPSG:26915." name:"crs" placeholder:"CODE"`
	Unit   string            `help:"Unit of densities whose column does not say, such as per_100_cm3." placeholder:"UNIT"`
	Column map[string]string `help:"What a column holds, where its header does not say: HEADER=FIELD. Fields: season, day, county, place, x, y, density, unit, bulk_density, level, cyst, method, group; HEADER= leaves it out. May be given several times." placeholder:"HEADER=FIELD"`
	Accept bool              `help:"Load it, if every row is in order." xor:"ask"`
	DryRun bool              `help:"Report only; this is what happens without --accept." xor:"ask"`
}

// errBadRows makes the exit code 1.
var errBadRows = errors.New("nothing was changed: put the rows above right, or take them out, and run this again; what the file does not say, such as --unit, flags can (--help)")

// Run judges the file and, if told so, loads it.
func (l historyLoadCommand) Run(ctx context.Context, c console) error {
	data, err := os.ReadFile(l.File)
	if err != nil {
		return err
	}
	return l.with(ctx, c, func(o *opened) error {
		store := postgres.NewHistory(o.staff)
		memory, err := store.Memory(ctx)
		if err != nil {
			return err
		}
		sheet, err := past.Open(data, memory)
		if err != nil {
			return sayFile(err)
		}
		m, err := l.mapping(sheet)
		if err != nil {
			return err
		}
		v, err := l.judge(ctx, c, store, sheet, m)
		if err != nil {
			return err
		}
		tellVerdict(c, v)
		switch {
		case v.BadRows > 0:
			return errBadRows
		case !l.Accept:
			fmt.Fprintln(c.out, "Nothing was changed. To load these results, run this again with --accept.")
			return nil
		}
		if err := store.Remember(ctx, past.Remembered(sheet, m, memory)); err != nil {
			return err
		}
		n, err := store.Accept(ctx, v.Digest, v.Kept, account.ID{}, today())
		if err != nil {
			return err
		}
		if n == 0 {
			fmt.Fprintln(c.out, "A file that says the same was loaded before: nothing was changed.")
			return nil
		}
		fmt.Fprintf(c.out, "%s loaded, to wait and come out with a release by its rules.\n", many(n, "result"))
		return nil
	})
}

// mapping is what the columns hold: guessed, then as the flags say.
func (l historyLoadCommand) mapping(s *tabular.Sheet) (tabular.Mapping, error) {
	m := past.Guess(s)
	for header, field := range l.Column {
		i := slices.IndexFunc(s.Headers, func(h string) bool { return tabular.Fold(h) == tabular.Fold(header) })
		if i < 0 {
			return m, fmt.Errorf("there is no column %q; the columns are: %s", header, strings.Join(s.Headers, ", "))
		}
		for j := range m.Columns {
			if m.Columns[j].Field == tabular.Field(field) {
				m.Columns[j] = tabular.Column{}
			}
		}
		m.Columns[i] = tabular.Column{Field: tabular.Field(field)}
	}
	var bad *assay.Invalid
	if !errors.As(past.Check(m), &bad) {
		return m, nil
	}
	lang := catalog.English()
	var said []string
	for field, p := range bad.Fields {
		if strings.HasPrefix(field, "columns.") {
			field = string(p)
		}
		said = append(said, lang.SayOf("past.mapping", field))
	}
	slices.Sort(said)
	return m, fmt.Errorf("%s Say with --column which; the columns are: %s", strings.Join(said, " "), strings.Join(s.Headers, ", "))
}

// judge gives every row its verdict.
func (l historyLoadCommand) judge(ctx context.Context, c console, store *postgres.History, s *tabular.Sheet, m tabular.Mapping) (v past.Verdict, err error) {
	with, err := store.Setup(ctx, today())
	if err != nil {
		return v, err
	}
	if l.Unit != "" {
		if with.Unit = tabular.UnitOf(l.Unit); with.Unit == 0 {
			return v, fmt.Errorf("there is no unit %q", l.Unit)
		}
	}
	if l.CRS != "" {
		crs, err := geofile.ParseCRS(l.CRS)
		if err != nil || crs.EPSG == 0 {
			return v, fmt.Errorf("coordinate system %q: write it like EPSG:26915", l.CRS)
		}
		with.SRID = crs.EPSG
	}
	places, err := store.Gazetteer(ctx)
	if err != nil {
		return v, err
	}
	bar := newBar(c.err)
	return past.Judge(ctx, s, m, with, places, store, func(rows int) {
		bar.show("reading the rows", float64(rows)/float64(max(s.Rows, 1)))
	})
}

// sayFile puts a file that cannot be read into words.
func sayFile(err error) error {
	var bad *tabular.FileError
	if !errors.As(err, &bad) {
		return err
	}
	lang := catalog.English()
	text := lang.SayOf("upload.file", string(bad.Problem))
	if bad.Line > 0 {
		text = lang.Say("upload.line", "line", fmt.Sprint(bad.Line)) + " " + text
	}
	return errors.New(text)
}

// tellVerdict writes what a file comes to; nothing of its cells.
func tellVerdict(c console, v past.Verdict) {
	lang := catalog.English()
	for _, b := range v.Bad {
		var words []string
		for _, f := range past.Fields() {
			if p, there := b.Problems[f]; there {
				words = append(words, lang.Say("upload.at", "field", lang.SayOf("past.field", string(f)), "problem", lang.SayOf("past.problem", string(p))))
			}
		}
		fmt.Fprintf(c.out, "line %d  %s\n", b.Line, strings.Join(words, "; "))
	}
	if more := v.BadRows - len(v.Bad); more > 0 {
		fmt.Fprintln(c.out, lang.Count("past.more", more))
	}
	for _, f := range past.Facts(v) {
		fmt.Fprintf(c.out, "%-60s %s\n", lang.SayOf("past.verdict", f.Key), f.Say(lang))
	}
}
