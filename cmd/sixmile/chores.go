package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// today is the calendar date here, as a day without a time. Here is the time zone of
// the machine, or that of the variable TZ: in a container, which has none of its own,
// a day would else end in the middle of an American evening.
func today() time.Time { return dayOf(time.Now()) }

// dayOf is the calendar date of a moment in the zone it is told in.
func dayOf(now time.Time) time.Time {
	y, m, d := now.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// checkZone refuses a time zone that nobody knows: days would be those of UTC, and
// nothing would say so.
func checkZone(name string) error {
	if name = strings.TrimPrefix(name, ":"); strings.HasPrefix(name, "/") {
		return nil // a file of the machine's own
	}
	if _, err := time.LoadLocation(name); err != nil {
		return fmt.Errorf("TZ=%q is no time zone: write one such as America/Chicago", name)
	}
	return nil
}

// day is a calendar day on the command line.
type day struct{ time.Time }

// UnmarshalText reads 2026-11-14.
func (d *day) UnmarshalText(b []byte) (err error) {
	if d.Time, err = sample.ParseDay(string(b)); err != nil {
		return fmt.Errorf("write a day as 2026-11-14")
	}
	return nil
}

type foundCommand struct {
	database
	Name  string `help:"The program's name, as every page shows it." required:""`
	State string `help:"The state's name." required:""`
}

// Run names the program.
func (f foundCommand) Run(ctx context.Context, c console) error {
	return f.with(ctx, c, func(o *opened) error {
		err := postgres.NewProgram(o.staff).Found(ctx, desk.About{Name: f.Name, State: f.State})
		if err == nil {
			fmt.Fprintf(c.out, "The program is %q, %s. ", f.Name, f.State)
			levels, err := postgres.NewLevels(o.staff).Scheme(ctx)
			if err != nil {
				return err
			}
			fmt.Fprintf(c.out, "Its level table is %q; sixmile levels list shows others. Next: boundaries load.\n", levels.Title)
		}
		return err
	})
}

type seasonCommand struct {
	database
	Year   int `arg:"" help:"The fall's year."`
	Opens  day `help:"First day on which soil may be pulled." required:"" placeholder:"2026-08-15"`
	Closes day `help:"Last day; spring bags belong to the fall before." required:"" placeholder:"2027-06-30"`
}

// Run opens the season.
func (s seasonCommand) Run(ctx context.Context, c console) error {
	if !s.Opens.Before(s.Closes.Time) {
		return errors.New("a season closes after it opens")
	}
	return s.with(ctx, c, func(o *opened) error {
		err := postgres.NewProgram(o.staff).AddSeason(ctx, sample.Season{Year: s.Year, Opens: s.Opens.Time, Closes: s.Closes.Time})
		if err == nil {
			fmt.Fprintf(c.out, "The fall of %d: soil pulled from %s to %s.\n", s.Year,
				s.Opens.Format(time.DateOnly), s.Closes.Format(time.DateOnly))
		}
		return err
	})
}

type officeCommand struct {
	database
	County  string `arg:"" help:"Name or code of the county."`
	Address string `help:"Where bags are handed out, as the public page shows it." required:""`
	Hours   string `help:"When the office is open." required:""`
	DropOff string `help:"Where growers leave full bags." required:""`
	LastDay *day   `help:"Last day full bags are taken." placeholder:"2026-11-30"`
}

// Run stores the office.
func (f officeCommand) Run(ctx context.Context, c console) error {
	return f.with(ctx, c, func(o *opened) error {
		program := postgres.NewProgram(o.staff)
		county, err := findCounty(ctx, program, f.County)
		if err != nil {
			return err
		}
		office := desk.Office{County: county.ID, Address: f.Address, Hours: f.Hours, DropOff: f.DropOff}
		if f.LastDay != nil {
			office.LastDay = &f.LastDay.Time
		}
		if err := program.SetOffice(ctx, office); err != nil {
			return err
		}
		fmt.Fprintf(c.out, "%s: bags at %s.\n", county.Name, f.Address)
		return nil
	})
}

// many is a number with its noun, whose plural is regular.
func many[N int | int64](n N, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}

func findCounty(ctx context.Context, p *postgres.Program, name string) (place.Place, error) {
	all, err := p.Places(ctx)
	if err != nil {
		return place.Place{}, err
	}
	var names []string
	for _, pl := range all {
		if pl.Kind != place.County {
			continue
		}
		if strings.EqualFold(pl.Name, name) || pl.Code == name {
			return pl, nil
		}
		names = append(names, pl.Name)
	}
	if len(names) == 0 {
		return place.Place{}, errors.New("there are no counties yet: run boundaries load first")
	}
	return place.Place{}, fmt.Errorf("there is no county %q; there are %s", name, strings.Join(names, ", "))
}
