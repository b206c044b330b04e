package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"

	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
)

type setsCommand struct{ database }

// Run lists the sets, then the reference layers of the newest.
func (s setsCommand) Run(ctx context.Context, c console) error {
	return s.with(ctx, c, func(o *opened) error {
		store := postgres.NewBoundaries(o.staff)
		sets, err := store.Sets(ctx)
		if err != nil {
			return err
		}
		if len(sets) == 0 {
			fmt.Fprintln(c.out, "No boundaries yet: sixmile boundaries load")
			return nil
		}
		for _, set := range sets {
			fmt.Fprintf(c.out, "Set %d, accepted %s: %d counties, %d townships, %d districts, drawn in EPSG:%d\n",
				set.Set, set.Day.Format("January 2, 2006"), set.Counties, set.Townships, set.Districts, set.SRID)
		}
		layers, err := store.Layers(ctx, sets[len(sets)-1].Set)
		for _, l := range layers {
			fmt.Fprintf(c.out, "  Layer %d, %s: %d of kind %s\n", l.Position, l.Title, l.Features, l.Kind)
		}
		return err
	})
}

type exportCommand struct {
	database
	Set    int    `help:"Number of the set; the one in force unless said."`
	Format string `help:"geojson or gpkg." enum:"geojson,gpkg" default:"geojson"`
	Layer  string `help:"Only this layer: counties, townships, districts, or a reference layer's title."`
	Out    string `help:"File to write; one that is there already is not written over." required:"" type:"path"`
}

// Run writes a set to a new file.
func (e exportCommand) Run(ctx context.Context, c console) error {
	return e.with(ctx, c, func(o *opened) error {
		layers, err := postgres.NewBoundaries(o.staff).Export(ctx, e.Set)
		if errors.Is(err, fault.ErrNotFound) {
			return errors.New("there is no such boundary set; see sixmile boundaries list")
		}
		if err != nil {
			return err
		}
		if layers, err = pick(layers, e.Layer); err != nil {
			return err
		}
		f, err := os.OpenFile(e.Out, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
		if err != nil {
			return err
		}
		if e.Format == "gpkg" {
			err = geofile.WriteGeoPackage(f, layers)
		} else {
			err = geofile.WriteGeoJSON(f, together(layers))
		}
		if err = errors.Join(err, f.Close()); err != nil {
			return errors.Join(err, os.Remove(e.Out))
		}
		n := 0
		for _, l := range layers {
			n += len(l.Features)
		}
		fmt.Fprintf(c.out, "%s: %d features.\n", e.Out, n)
		return nil
	})
}

// pick is the layer of a name, or all.
func pick(layers []geofile.Layer, name string) ([]geofile.Layer, error) {
	if name == "" {
		return layers, nil
	}
	var names []string
	for _, l := range layers {
		if l.Name == name || l.Name == "layer "+name {
			return []geofile.Layer{l}, nil
		}
		names = append(names, l.Name)
	}
	return nil, &geofile.ChooseError{Layers: names}
}

// together makes one layer of several: GeoJSON has no layers. Each feature says
// which it is of.
func together(layers []geofile.Layer) geofile.Layer {
	out := geofile.Layer{SRID: 4326}
	for _, l := range layers {
		for _, f := range l.Features {
			f.Properties = maps.Clone(f.Properties)
			f.Properties["layer"] = l.Name
			out.Features = append(out.Features, f)
		}
	}
	return out
}

type layerCommand struct {
	Add  layerAddCommand  `cmd:"" help:"Lay towns, rivers, roads or ridges on the maps, from a file."`
	Drop layerDropCommand `cmd:"" help:"Take a layer off again."`
}

type layerAddCommand struct {
	database
	Kind      string `help:"town (points), river or road (lines), ridge (areas)." enum:"town,river,road,ridge" required:""`
	File      string `help:"GeoJSON, shapefile (zipped or not), GeoPackage." required:"" type:"existingfile"`
	FileLayer string `help:"Layer of the file, where it has several."`
	CRS       string `help:"Coordinate system of a file that does not say." name:"crs" placeholder:"CODE"`
	NameField string `help:"Field with the names; without one nothing is labeled."`
	RankField string `help:"Field with a number, 1 before 2, for where there is no room for all."`
	Title     string `help:"What the layer is called; one of the same title is replaced."`
	Position  int    `help:"Layers are drawn in this order." default:"1"`
}

// Run puts the layer on the set in force.
func (l layerAddCommand) Run(ctx context.Context, c console) error {
	file, err := readLayer(l.File, l.FileLayer, l.CRS, true)
	if err != nil {
		return err
	}
	layer, err := geofile.NewReferenceLayer(file, l.Kind, l.NameField, l.RankField)
	if err != nil {
		return err
	}
	layer.Position = l.Position
	if l.Title != "" {
		layer.Title = l.Title
	}
	return l.with(ctx, c, func(o *opened) error {
		done, err := postgres.NewBoundaries(o.staff).PutLayer(ctx, layer)
		if errors.Is(err, fault.ErrNotFound) {
			return errors.New("there are no boundaries yet to lay it on: sixmile boundaries load")
		}
		if err != nil {
			return err
		}
		fmt.Fprintf(c.out, "%s: %d features", layer.Title, done.Shown)
		if done.Beyond > 0 {
			fmt.Fprintf(c.out, "; %d lie elsewhere and were left out", done.Beyond)
		}
		fmt.Fprintln(c.out, ".")
		return nil
	})
}

type layerDropCommand struct {
	database
	Title string `help:"The layer's title." required:""`
}

// Run takes the layer off the set in force.
func (l layerDropCommand) Run(ctx context.Context, c console) error {
	return l.with(ctx, c, func(o *opened) error {
		err := postgres.NewBoundaries(o.staff).DropLayer(ctx, l.Title)
		if errors.Is(err, fault.ErrNotFound) {
			return fmt.Errorf("there is no layer called %q; see sixmile boundaries list", l.Title)
		}
		return err
	})
}
