// Package demo takes the invented state of package world through the program:
// its boundaries are accepted, its bags issued, its growers' forms sent, its
// soil logged in and counted, and twelve editions released, each by the same
// code as real work. Nothing is written around the stores.
package demo

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"github.com/twpayne/go-geom"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/geofile"
	"sixmile/internal/money"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/internal/virulence"
	"sixmile/internal/world"
)

// Stores is what the program's stores do for the demo.
type Stores struct {
	Program interface {
		Found(ctx context.Context, a desk.About) error
		AddSeason(ctx context.Context, s sample.Season) error
		SetOffice(ctx context.Context, o desk.Office) error
		Places(ctx context.Context) ([]place.Place, error)
	}
	Boundaries interface {
		Accept(ctx context.Context, s geofile.Set, today time.Time) error
		AddLayers(ctx context.Context, l []geofile.Landmark) error
	}
	Bags interface {
		Issue(ctx context.Context, county place.ID, season int, sizes []int, today time.Time) (desk.ID, error)
		Bundles(ctx context.Context, lot desk.ID) ([][]bag.Code, place.ID, error)
		LogIn(ctx context.Context, code bag.Code, today time.Time) error
	}
	Intake interface {
		Take(ctx context.Context, v sample.Visit, today time.Time) error
	}
	Lab interface {
		Record(ctx context.Context, k desk.Keyed, by account.ID) error
	}
	Indicators interface {
		Record(ctx context.Context, code bag.Code, t virulence.Test, replaces desk.ID, by account.ID, today time.Time) error
	}
	SignOff interface {
		Unsigned(ctx context.Context) ([]desk.Unsigned, error)
		Sign(ctx context.Context, results []desk.ID, by account.ID, today time.Time) (desk.ID, int, error)
	}
	Releases interface {
		Preview(ctx context.Context, cutoff, day time.Time) (desk.Preview, error)
		Release(ctx context.Context, number int, cutoff, day time.Time, stamp string, by account.ID) error
	}
	Money interface {
		SetPrices(ctx context.Context, p money.Prices) error
		SetBudget(ctx context.Context, b money.Budget) error
	}
	// Plan makes the plan of a fall's bags from what is released so far, and keeps it.
	Plan   func(ctx context.Context, season int, bags int, day time.Time) error
	People interface {
		Add(ctx context.Context, p account.Staff, passwordHash string) error
	}
}

// Login is a way into the demo's office.
type Login struct {
	Login, Name string
	Role        account.Role
}

// Password opens every login of the demo. It is no secret: the demo holds
// nothing that is true.
const Password = "six miles square"

// Logins are the demo's staff.
var Logins = []Login{
	{"coordinator", "Program coordinator", account.Coordinator},
	{"lab", "Lab technician", account.Technician},
	{"educator", "County educator", account.Educator},
	{"counter", "Counter clerk", account.Clerk},
}

// Progress is told what is being done and how far it has come, from 0 to 1.
type Progress func(doing string, share float64)

// LastClosed is the fall before the one the demo stands in, so that every day
// of it is past: from November on the demo's open fall is this year's.
func LastClosed(today time.Time) int {
	if today.Month() >= time.November {
		return today.Year() - 1
	}
	return today.Year() - 2
}

// Build makes the whole demo in an empty, migrated database.
func Build(ctx context.Context, s Stores, w *world.World, passwordHash string, report Progress) error {
	b := &builder{Stores: s, world: w, report: report, method: assay.DefaultMethod()}
	for _, step := range []func(context.Context) error{b.ground, b.offices, b.staff(passwordHash), b.money, b.years} {
		if err := step(ctx); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
	}
	return nil
}

type builder struct {
	Stores
	world    *world.World
	report   Progress
	method   assay.Method
	places   map[place.ID]place.Place
	county   map[string]place.ID    // by county code
	township map[[2]string]place.ID // by county and township code
	seasons  []sample.Season
}

// ground founds the program and accepts its boundaries.
func (b *builder) ground(ctx context.Context) error {
	b.report("boundaries", 0)
	about := desk.About{Name: "Sixmile", State: b.world.Name, Invented: true}
	if err := b.Program.Found(ctx, about); err != nil {
		return err
	}
	counties, err := geofile.ReadGeoJSON(bytes.NewReader(b.world.CountiesGeoJSON()), geofile.DefaultLimits())
	if err != nil {
		return err
	}
	townships, err := geofile.ReadGeoJSON(bytes.NewReader(b.world.TownshipsGeoJSON()), geofile.DefaultLimits())
	if err != nil {
		return err
	}
	set, err := geofile.NewSet(counties, townships, geofile.Fields{Code: "code", Name: "name"},
		geofile.Fields{Code: "code", Name: "name", County: "county"})
	if err != nil {
		return err
	}
	first := b.world.Seasons[0]
	if err := b.Boundaries.Accept(ctx, set, seasonOf(first.Year).Opens); err != nil {
		return err
	}
	if err := b.Boundaries.AddLayers(ctx, landmarks(b.world)); err != nil {
		return err
	}
	for _, season := range b.world.Seasons {
		s := seasonOf(season.Year)
		b.seasons = append(b.seasons, s)
		if err := b.Program.AddSeason(ctx, s); err != nil {
			return err
		}
	}
	return b.findPlaces(ctx)
}

// seasonOf is a program year: from August to the July after.
func seasonOf(year int) sample.Season {
	return sample.Season{
		Year:   year,
		Opens:  time.Date(year, time.August, 1, 0, 0, 0, 0, time.UTC),
		Closes: time.Date(year+1, time.July, 31, 0, 0, 0, 0, time.UTC),
	}
}

func (b *builder) findPlaces(ctx context.Context) error {
	places, err := b.Program.Places(ctx)
	if err != nil {
		return err
	}
	b.places, b.county, b.township = map[place.ID]place.Place{}, map[string]place.ID{}, map[[2]string]place.ID{}
	for _, p := range places {
		b.places[p.ID] = p
		if p.Kind == place.County {
			b.county[p.Code] = p.ID
		}
	}
	for _, p := range places {
		if p.Kind == place.Township {
			b.township[[2]string{b.places[p.County].Code, p.Code}] = p.ID
		}
	}
	return nil
}

// offices tells where bags are, with the last day of the fall that is open.
func (b *builder) offices(ctx context.Context) error {
	open := b.world.Seasons[len(b.world.Seasons)-1]
	for _, c := range b.world.Counties {
		last := open.Closes
		err := b.Program.SetOffice(ctx, desk.Office{
			County: b.county[c.Code], Address: c.Office.Address, Hours: c.Office.Hours,
			DropOff: c.Office.DropOff, LastDay: &last,
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) staff(hash string) func(context.Context) error {
	return func(ctx context.Context) error {
		first := b.county[b.world.Counties[0].Code]
		for _, l := range Logins {
			p := account.Staff{Login: l.Login, Name: l.Name, Role: l.Role}
			if l.Role == account.Clerk || l.Role == account.Educator {
				p.Counties = []place.ID{first}
			}
			if err := b.People.Add(ctx, p, hash); err != nil {
				return err
			}
		}
		return nil
	}
}

func landmarks(w *world.World) []geofile.Landmark {
	var out []geofile.Landmark
	for _, r := range w.Rivers {
		out = append(out, geofile.Landmark{Kind: "river", Name: r.Name, Rank: 1,
			Shape: geom.NewLineStringFlat(geom.XY, flat(r.Line))})
	}
	for _, r := range w.Ridges {
		ring := flat(r.Outline.Outer)
		out = append(out, geofile.Landmark{Kind: "ridge", Name: r.Name, Rank: 1,
			Shape: geom.NewPolygonFlat(geom.XY, ring, []int{len(ring)})})
	}
	for _, t := range w.Towns {
		rank := 2
		if t.Seat {
			rank = 1
		}
		out = append(out, geofile.Landmark{Kind: "town", Name: t.Name, Rank: rank,
			Shape: geom.NewPointFlat(geom.XY, []float64{t.At.Lon, t.At.Lat})})
	}
	return out
}

func flat(line []world.LonLat) []float64 {
	out := make([]float64, 0, 2*len(line))
	for _, p := range line {
		out = append(out, p.Lon, p.Lat)
	}
	return out
}
