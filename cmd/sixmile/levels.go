package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
)

type levelsCommand struct {
	List levelsListCommand `cmd:"" help:"List the level tables, with their cut points and where they are from."`
	Add  levelsAddCommand  `cmd:"" help:"Add a level table of your own, or a new version of one."`
	Use  levelsUseCommand  `cmd:"" help:"Choose the table that the first map is by; once there is a map, edition restate puts another in force."`
}

type levelsListCommand struct{ demoToo }

// Run prints each table, the one in force marked.
func (l levelsListCommand) Run(ctx context.Context, c console) error {
	return l.with(ctx, c, func(o *opened) error {
		tables, inForce, err := postgres.NewLevels(o.staff).Tables(ctx)
		if err != nil {
			return err
		}
		if len(tables) == 0 {
			fmt.Fprintln(c.out, "There are no level tables yet: run sixmile found first.")
		}
		for i, t := range tables {
			tellTable(c.out, t, i == inForce)
		}
		return nil
	})
}

// tellTable writes a table: its key, where it is from, and its levels.
func tellTable(w io.Writer, t assay.Scheme, inForce bool) {
	mark := ""
	if inForce {
		mark = "  (in force)"
	}
	fmt.Fprintf(w, "%s, version %d%s\n    %s\n    %s\n    ", t.Key, t.Version, mark, t.Title, t.Source)
	names, above := levelNames(t), 0.0
	for i, class := range t.Classes {
		if class.Kind != assay.Found {
			continue
		}
		if last := i == len(t.Classes)-1; last {
			fmt.Fprintf(w, "%s over %s", names[i], plain(above))
		} else {
			fmt.Fprintf(w, "%s to %s, ", names[i], plain(float64(class.Upper)))
		}
		above = float64(class.Upper)
	}
	fmt.Fprintf(w, " eggs per 100 cm³; unconfirmed to %s where no cyst was seen\n", plain(float64(t.Trace)))
}

// plain is a number without an exponent.
func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

type levelsAddCommand struct {
	database
	Key    string   `arg:"" help:"Short name for commands: small letters, digits and underscores, such as our_state_2026. One that is there gets a new version."`
	Title  string   `help:"What maps and answers call the table, with its year." required:""`
	Source string   `help:"Who published it, where and when: it is printed under every map." required:""`
	Level  []string `help:"A level and the highest count in it, such as low=2000, from the lowest up; the last one without a number. Levels are ${levels}." required:"" sep:"none" placeholder:"NAME=UPTO"`
	Per    float64  `help:"The table's counts are per so many cm³ of soil." default:"100"`
	Trace  *float64 `help:"Counts up to this, in the same unit, are unconfirmed unless a cyst was seen: eggs of other cyst nematodes look alike. 200 per 100 cm³ unless given, and never over the first level." placeholder:"COUNT"`
}

// Run stores the table. It is not in force by that.
func (l levelsAddCommand) Run(ctx context.Context, c console) error {
	table, err := l.table()
	if err != nil {
		return err
	}
	return l.with(ctx, c, func(o *opened) error {
		stored, err := postgres.NewLevels(o.staff).AddTable(ctx, table)
		if err != nil {
			return badTable(err)
		}
		tellTable(c.out, stored, false)
		fmt.Fprintf(c.out, "It is stored. Look it over with whoever your state's table is from. Then, before the first map: sixmile levels use %s; after it: sixmile edition restate --scheme %s.\n",
			stored.Key, stored.Key)
		return nil
	})
}

// table makes the level table out of the command line.
func (l levelsAddCommand) table() (assay.Scheme, error) {
	if !(l.Per > 0) || math.IsInf(l.Per, 0) {
		return assay.Scheme{}, errors.New("--per is an amount of soil in cm³, such as 100 or 250")
	}
	trace := assay.HouseTrace
	if l.Trace != nil {
		trace = assay.Density(*l.Trace * 100 / l.Per)
	}
	t := assay.Scheme{
		Key: l.Key, Version: 1, Title: strings.TrimSpace(l.Title), Source: strings.TrimSpace(l.Source), Trace: trace,
		Classes: []assay.Class{{Rank: 0, Name: "none", Kind: assay.None}, {Rank: 1, Name: "unconfirmed", Upper: trace, Kind: assay.Unconfirmed}},
	}
	for i, given := range l.Level {
		name, number, bounded := strings.Cut(given, "=")
		if !slices.Contains(foundLevels[:], name) {
			return t, fmt.Errorf("%q is no level; levels are %s", name, levelKeys())
		}
		upper := math.Inf(1)
		if last := i == len(l.Level)-1; bounded == last {
			return t, fmt.Errorf("every level but the last says how high it goes, such as low=2000; the last one does not: %q", given)
		}
		if bounded {
			x, err := assay.ParseNumber(number)
			if err != nil {
				return t, fmt.Errorf("%q: how high a level goes is a number, such as low=2000", given)
			}
			upper = x * 100 / l.Per
		}
		t.Classes = append(t.Classes, assay.Class{Rank: len(t.Classes), Name: name, Upper: assay.Density(upper), Kind: assay.Found})
	}
	return t, nil
}

// badTable says in a sentence why a table cannot stand.
func badTable(err error) error {
	for _, p := range []struct {
		is  assay.Problem
		say string
	}{
		{assay.NotKey, "a key is small letters, digits and underscores, a letter first"},
		{assay.Missing, "key, title and source must say something"},
		{assay.TooMany, fmt.Sprintf("a table has at most %d levels: more lines cannot be told apart on a map", assay.MaxFoundClasses)},
		{assay.OutOfOrder, "levels go from the lowest up, each higher than the one before"},
		{assay.Doubled, "each level has a name of its own"},
		{assay.TraceAboveFirst, "the count up to which finds are unconfirmed is over the first level: give a lower --trace, with the reason from your source"},
		{assay.Negative, "counts are not under zero"},
		{assay.NotPositive, "a level ends above zero"},
		{assay.TooLarge, "the key is too long"},
	} {
		if errors.Is(err, p.is) {
			return errors.New(p.say)
		}
	}
	return err
}

// foundLevels are the names that found levels may have: those that there are words
// for in every language, lowest first.
var foundLevels = [...]string{"trace", "very_low", "low", "low_to_moderate", "moderate", "moderate_to_high", "upper_moderate", "high", "very_high"}

func levelKeys() string { return strings.Join(foundLevels[:], ", ") }

type levelsUseCommand struct {
	database
	Key string `arg:"" help:"Key of the table: ${schemes}, or one of your own."`
}

// Run puts the table in force.
func (l levelsUseCommand) Run(ctx context.Context, c console) error {
	return l.with(ctx, c, func(o *opened) error {
		t, left, err := postgres.NewLevels(o.staff).Choose(ctx, l.Key)
		switch {
		case errors.Is(err, fault.ErrNotFound):
			return fmt.Errorf("there is no level table %q: sixmile levels list", l.Key)
		case errors.Is(err, fault.ErrConflict):
			return fmt.Errorf("there is a map already: sixmile edition restate --scheme %s shows what this table would change, and --release puts it in force", l.Key)
		case err != nil:
			return err
		}
		tellTable(c.out, t, true)
		fmt.Fprintln(c.out, "Answers go by it from now on, and so will the first map.")
		if left > 0 {
			fmt.Fprintf(c.out, "%d past results stay out: their file gave levels of another table, and no counts that could be sorted by this one.\n", left)
		}
		return nil
	})
}
