package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
)

type boundariesCommand struct {
	Load loadCommand `cmd:"" help:"Accept county and township boundaries from GeoJSON files."`
}

type loadCommand struct {
	database
	Counties       string `help:"GeoJSON file of the counties." required:"" type:"existingfile"`
	Townships      string `help:"GeoJSON file of the townships." required:"" type:"existingfile"`
	CountyCode     string `help:"Field with the county's code." default:"code"`
	CountyName     string `help:"Field with the county's name." default:"name"`
	TownshipCode   string `help:"Field with the township's code." default:"code"`
	TownshipName   string `help:"Field with the township's name." default:"name"`
	TownshipCounty string `help:"Field of the township file with the county's code or name." default:"county"`
}

// Run reads both files, checks them, and accepts them as the boundaries in force.
func (l loadCommand) Run(ctx context.Context, c console) error {
	counties, err := readLayer(l.Counties)
	if err != nil {
		return err
	}
	townships, err := readLayer(l.Townships)
	if err != nil {
		return err
	}
	set, err := geofile.NewSet(counties, townships,
		geofile.Fields{Code: l.CountyCode, Name: l.CountyName},
		geofile.Fields{Code: l.TownshipCode, Name: l.TownshipName, County: l.TownshipCounty})
	if err != nil {
		return err
	}
	return l.with(ctx, c, func(o *opened) error {
		a, err := postgres.NewBoundaries(o.staff).Accept(ctx, set, today())
		var bad *fault.Invalid
		if errors.As(err, &bad) {
			return fmt.Errorf("these outlines cross themselves, so nothing was changed: %s", places(bad))
		}
		if err != nil {
			return err
		}
		if !a.New {
			fmt.Fprintf(c.out, "These boundaries were accepted before, as set %d: nothing was changed.\n", a.Set)
			return nil
		}
		fmt.Fprintf(c.out, "Boundary set %d: %d counties, %d townships, cut into %d districts.\n",
			a.Set, a.Counties, a.Townships, a.Districts)
		return nil
	})
}

// places are the places a refusal names.
func places(bad *fault.Invalid) string {
	for _, p := range bad.Fields {
		if len(p.Args) == 2 {
			return fmt.Sprint(p.Args[1])
		}
	}
	return bad.Error()
}

func readLayer(file string) (geofile.Layer, error) {
	f, err := os.Open(file)
	if err != nil {
		return geofile.Layer{}, err
	}
	defer f.Close()
	l, err := geofile.ReadGeoJSON(f, geofile.DefaultLimits())
	if err != nil {
		return l, fmt.Errorf("%s: %w", file, err)
	}
	return l, nil
}
