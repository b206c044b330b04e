package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
)

type boundariesCommand struct {
	Load   loadCommand   `cmd:"" help:"Look over county and township boundaries from files, and accept them."`
	List   setsCommand   `cmd:"" help:"List boundary sets and the reference layers of the one in force."`
	Export exportCommand `cmd:"" help:"Write a boundary set to a file."`
	Layer  layerCommand  `cmd:"" help:"Reference layers: towns, rivers, roads, ridges."`
}

type loadCommand struct {
	database
	Counties       string `help:"File of the counties: GeoJSON, shapefile (zipped or not), GeoPackage." required:"" type:"existingfile"`
	Townships      string `help:"File of the townships." required:"" type:"existingfile"`
	CountyLayer    string `help:"Layer of the county file, where it has several."`
	TownshipLayer  string `help:"Layer of the township file, where it has several."`
	CRS            string `help:"Coordinate system of files that do not say, such as EPSG:26915." name:"crs" placeholder:"CODE"`
	CountyCode     string `help:"Field with the county's code." default:"code"`
	CountyName     string `help:"Field with the county's name." default:"name"`
	TownshipCode   string `help:"Field with the township's code." default:"code"`
	TownshipName   string `help:"Field with the township's name." default:"name"`
	TownshipCounty string `help:"Field of the township file with the county's code or name; where it has none, county lines cut the townships." default:"county"`
	Accept         bool   `help:"Accept without asking, unless something stands in the way." xor:"ask"`
	DryRun         bool   `help:"Report only." xor:"ask"`
}

// errNotAccepted: the report was shown and nobody said yes.
var errNotAccepted = errors.New("nothing was changed; to accept, run this again with --accept")

// Run reads both files, lays them out, shows what was found, and accepts them if
// told so.
func (l loadCommand) Run(ctx context.Context, c console) error {
	set, err := l.read()
	if err != nil {
		return err
	}
	return l.with(ctx, c, func(o *opened) error {
		store := postgres.NewBoundaries(o.staff).Telling(newBar(c.err).show)
		t, found, err := store.Stage(ctx, set, today())
		if err != nil {
			return err
		}
		if found.Known > 0 {
			fmt.Fprintf(c.out, "These boundaries were accepted before, as set %d: nothing was changed.\n", found.Known)
			return nil
		}
		report(c.out, found)
		if err := l.decide(c, found); err != nil || l.DryRun {
			return errors.Join(err, store.Discard(ctx, t))
		}
		a, err := store.AcceptStaged(ctx, t, today())
		if err != nil {
			return err
		}
		fmt.Fprintf(c.out, "Boundary set %d: %d counties, %d townships, cut into %d districts.\n",
			a.Set, a.Counties, a.Townships, a.Districts)
		return nil
	})
}

func (l loadCommand) read() (geofile.Set, error) {
	counties, err := readLayer(l.Counties, l.CountyLayer, l.CRS, false)
	if err != nil {
		return geofile.Set{}, err
	}
	townships, err := readLayer(l.Townships, l.TownshipLayer, l.CRS, false)
	if err != nil {
		return geofile.Set{}, err
	}
	// Fields that nobody named and the file does not have are not missed.
	spare := func(layer geofile.Layer, field, usual string) string {
		if field == usual && !slices.Contains(layer.Fields(), field) {
			return ""
		}
		return field
	}
	return geofile.NewSet(counties, townships,
		geofile.Fields{Code: l.CountyCode, Name: spare(counties, l.CountyName, "name")},
		geofile.Fields{Code: l.TownshipCode, Name: spare(townships, l.TownshipName, "name"),
			County: spare(townships, l.TownshipCounty, "county")})
}

// decide is nil if the set is to be accepted, or the report was all that was
// asked for.
func (l loadCommand) decide(c console, found geofile.Inspection) error {
	switch {
	case found.Stopped():
		return errors.New("these boundaries cannot be accepted: see what stands in the way above; nothing was changed")
	case l.Accept, l.DryRun:
		return nil
	case !isTerminal(c.in):
		return errNotAccepted
	}
	fmt.Fprint(c.out, "Accept these boundaries? Type yes: ")
	answer, err := bufio.NewReader(c.in).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	if !strings.EqualFold(strings.TrimSpace(answer), "yes") {
		return errNotAccepted
	}
	return nil
}

func isTerminal(r io.Reader) bool {
	f, ok := r.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return false
	}
	null, err := os.Stat(os.DevNull) // a device too, and nobody sits there
	return err != nil || !os.SameFile(info, null)
}

// report writes what was found, gravest first.
func report(w io.Writer, i geofile.Inspection) {
	fmt.Fprintln(w)
	for _, l := range []struct {
		name string
		geofile.Layout
	}{{"Counties", i.Counties}, {"Townships", i.Townships}} {
		fmt.Fprintf(w, "%-10s %d outlines, %d rings, %d corners, %s; %.4f to %.4f north, %.4f to %.4f east\n", l.name,
			l.Features, l.Rings, l.Points, geofile.Acres(l.Area), l.South, l.North, l.West, l.East)
	}
	fmt.Fprintf(w, "%-10s %d townships, each in one county; %d of all places known, %d new\n", "Places", i.Places, i.Kept, i.New)
	fmt.Fprintf(w, "%-10s in EPSG:%d, within %d to %d meters, %d corners of %d\n", "Drawn",
		i.SRID, i.Tolerance[0]+1, i.Tolerance[1]+1, i.Corners[1], i.Corners[0])
	heads := map[geofile.Weight]string{
		geofile.Stop: "In the way of accepting:", geofile.Look: "Worth a look:", geofile.Note: "Good to know:",
	}
	for _, weight := range []geofile.Weight{geofile.Stop, geofile.Look, geofile.Note} {
		head := heads[weight]
		for _, f := range i.Findings {
			if f.Weight != weight {
				continue
			}
			if head != "" {
				fmt.Fprintf(w, "\n%s\n", head)
				head = ""
			}
			fmt.Fprintf(w, "  - %s\n", f)
		}
	}
	fmt.Fprintln(w)
}

// readLayer reads a file with the default limits.
func readLayer(file, layer, crs string, anyShape bool) (geofile.Layer, error) {
	opt := geofile.Options{Layer: layer, Any: anyShape}
	if crs != "" {
		var err error
		if opt.CRS, err = geofile.ParseCRS(crs); err != nil {
			return geofile.Layer{}, err
		}
	}
	return geofile.ReadFile(file, geofile.DefaultLimits(), opt)
}
