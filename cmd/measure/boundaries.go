package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"time"

	"github.com/twpayne/go-geom"

	"sixmile/internal/geofile"
	"sixmile/internal/postgres"
)

// What a nation's boundaries may take, ours: the patience of somebody who waits
// for a page that works, and half of a small server's memory.
const (
	boundaryPatience = 600 // s
	boundaryMemory   = 1_000
)

// nationFile are the real counties of testdata/boundaries, from the root.
const nationFile = "testdata/boundaries/us-counties.geojson.gz"

// measureBoundaries times boundaries of national scale from the files' bytes to
// the set in force, with the most memory the program has in use meanwhile: every
// county of the nation with one township each, and a lattice of 90,000 townships
// in 3,000 counties.
func measureBoundaries(ctx context.Context, put func(row), log io.Writer) error {
	data, err := os.ReadFile(nationFile)
	if err != nil {
		return fmt.Errorf("run this at the root of the project: %w", err)
	}
	counties, townships, err := latticeFiles(50, 60, 6, 5)
	if err != nil {
		return err
	}
	for _, in := range []struct {
		name                string
		counties, townships []byte
		county, township    geofile.Fields
		places              int
	}{
		{"3,200 real counties", data, data, geofile.Fields{Code: "id", Name: "name"}, geofile.Fields{Code: "id", County: "id"}, 3_200},
		{"90,000 townships", counties, townships, geofile.Fields{Code: "code"}, geofile.Fields{Code: "code", County: "county"}, 90_000},
	} {
		err := founded(ctx, log, func(ctx context.Context, _ postgres.Logins, staff *postgres.Pool) error {
			start := time.Now()
			peak, err := peakOf(func() error {
				set, err := readSet(in.counties, in.townships, in.county, in.township)
				if err != nil {
					return err
				}
				return putInForce(ctx, log, postgres.NewBoundaries(staff), set, in.places)
			})
			if err != nil {
				return err
			}
			put(within("boundaries: "+in.name, "s", time.Since(start).Seconds(), boundaryPatience))
			put(within("boundaries: "+in.name+", memory", "MB", peak, boundaryMemory))
			return nil
		})
		if err != nil {
			return fmt.Errorf("%s: %w", in.name, err)
		}
	}
	return nil
}

func readSet(counties, townships []byte, county, township geofile.Fields) (geofile.Set, error) {
	var layers [2]geofile.Layer
	for i, data := range [][]byte{counties, townships} {
		l, err := geofile.Read("measured", bytes.NewReader(data), int64(len(data)), geofile.DefaultLimits())
		if err != nil {
			return geofile.Set{}, err
		}
		layers[i] = l
	}
	return geofile.NewSet(layers[0], layers[1], county, township)
}

// putInForce lays a set out, looks at the report as a person would, and accepts.
func putInForce(ctx context.Context, log io.Writer, store *postgres.Boundaries, set geofile.Set, least int) error {
	day := time.Date(2026, time.August, 1, 0, 0, 0, 0, time.UTC)
	ticket, found, err := store.Stage(ctx, set, day)
	if err != nil {
		return err
	}
	if found.Stopped() {
		return errors.New("they cannot be accepted")
	}
	done, err := store.AcceptStaged(ctx, ticket, day)
	if err != nil {
		return err
	}
	fmt.Fprintf(log, "%d counties, %d townships, %d districts\n", done.Counties, done.Townships, done.Districts)
	if done.Townships < least {
		return fmt.Errorf("%d townships of %d", done.Townships, least)
	}
	return nil
}

// latticeFiles are GeoJSON files of wide by tall counties, each of across by down
// townships a tenth of a degree to the side.
func latticeFiles(wide, tall, across, down int) (counties, townships []byte, err error) {
	const step = 0.1
	box := func(x, y, w, h int, properties map[string]string) geofile.Feature {
		x0, y0 := -110+float64(x)*step, 20+float64(y)*step
		x1, y1 := -110+float64(x+w)*step, 20+float64(y+h)*step
		flat := []float64{x0, y0, x1, y0, x1, y1, x0, y1, x0, y0}
		return geofile.Feature{Properties: properties, Geometry: geom.NewMultiPolygonFlat(geom.XY, flat, [][]int{{len(flat)}})}
	}
	c, t := geofile.Layer{SRID: 4326}, geofile.Layer{SRID: 4326}
	for x := range wide {
		for y := range tall {
			code := strconv.Itoa(x*tall + y)
			c.Features = append(c.Features, box(x*across, y*down, across, down, map[string]string{"code": code}))
			for i := range across {
				for j := range down {
					p := map[string]string{"code": fmt.Sprintf("T%dN R%dE", y*down+j+1, x*across+i+1), "county": code}
					t.Features = append(t.Features, box(x*across+i, y*down+j, 1, 1, p))
				}
			}
		}
	}
	var out [2]bytes.Buffer
	err = errors.Join(geofile.WriteGeoJSON(&out[0], c), geofile.WriteGeoJSON(&out[1], t))
	return out[0].Bytes(), out[1].Bytes(), err
}
