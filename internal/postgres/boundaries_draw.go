package postgres

import (
	"context"
	"fmt"
	"math"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"

	"sixmile/internal/geofile"
	"sixmile/internal/outline"
)

// perDegree is the grid on which edges are found to be shared: millionths of a
// degree, eleven centimeters at most.
const perDegree = 1e6

// The letter sheet's longer side less its margins is 250 mm; an outline may be
// a tenth of a millimeter off there.
const sheetTenths = 2500

// draw makes the outlines for drawing. Edges are found to be shared in degrees,
// where surveyed lines are straight: in meters a long edge and the short ones
// along it are different curves.
func (b *bench) draw() error {
	err := b.tx.QueryRow(b.ctx, `SELECT `+metricSystem+` FROM (SELECT ST_Extent(geom) AS e FROM placed) x`).Scan(&b.srid)
	if err != nil {
		return err
	}
	b.found.SRID = b.srid
	shapes, county, err := b.shapes()
	if err != nil {
		return err
	}
	degrees, err := outline.New(shapes)
	if err != nil {
		return err
	}
	b.tell("making the outlines to draw", b.share+0.03)
	points, err := toMeters(b.ctx, b.tx, degrees.Points(), b.srid)
	if err != nil {
		return err
	}
	full, err := degrees.Moved(points)
	if err != nil {
		return err
	}
	drawn := full.Simplify(b.tolerances(full, county))
	b.found.Corners = [2]int{full.Corners(), drawn.Corners()}
	b.tell("making the outlines to draw", b.share+0.08)
	return b.keepDrawn(drawn)
}

// metricSystem chooses the coordinate system of the outlines from an extent e:
// the universal transverse Mercator zone of its middle; for what is wider than
// two zones the equal-area conic of the United States or, elsewhere, the
// equal-area cylinder of the world.
const metricSystem = `
	CASE WHEN ST_XMax(e) - ST_XMin(e) <= 12
	     THEN CASE WHEN ST_YMin(e) + ST_YMax(e) < 0 THEN 32700 ELSE 32600 END
	          + floor(((ST_XMin(e) + ST_XMax(e)) / 2 + 180) / 6)::int % 60 + 1
	     WHEN ST_YMin(e) > 15 AND ST_XMax(e) < -50 OR ST_XMin(e) < -100 AND ST_YMax(e) > 40 THEN 5070
	     ELSE 6933 END`

// shapes reads the places, rounded to the grid, and of each the index of its
// county (its own, for counties).
func (b *bench) shapes() (shapes []outline.Shape, county []int, err error) {
	rows, err := b.tx.Query(b.ctx, `SELECT n, coalesce(county, n), geom FROM placed ORDER BY n`)
	if err != nil {
		return nil, nil, err
	}
	var n, c int
	var shape geom.T
	_, err = pgx.ForEachRow(rows, []any{&n, &c, &shape}, func() error {
		if n != len(shapes)+1 {
			return fmt.Errorf("place %d stands where %d is due", n, len(shapes)+1)
		}
		shapes = append(shapes, toShape(shape, perDegree))
		county = append(county, c-1)
		return nil
	})
	return shapes, county, err
}

// toShape rounds an outline to whole numbers after scaling it.
func toShape(g geom.T, scale float64) outline.Shape {
	var out outline.Shape
	flat, stride := g.FlatCoords(), g.Stride()
	var endss [][]int
	switch g := g.(type) {
	case *geom.MultiPolygon:
		endss = g.Endss()
	case *geom.Polygon:
		endss = [][]int{g.Ends()}
	}
	start := 0
	for _, ends := range endss {
		var polygon [][]outline.Point
		for _, end := range ends {
			ring := make([]outline.Point, 0, (end-start)/stride)
			for i := start; i+1 < end; i += stride {
				ring = append(ring, outline.Point{X: int32(math.Round(flat[i] * scale)), Y: int32(math.Round(flat[i+1] * scale))})
			}
			polygon = append(polygon, ring)
			start = end
		}
		out = append(out, polygon)
	}
	return out
}

// fromShape is an outline of whole meters for the database.
func fromShape(s outline.Shape, srid int) *geom.MultiPolygon {
	var flat []float64
	var endss [][]int
	for _, polygon := range s {
		var ends []int
		for _, ring := range polygon {
			for _, p := range ring {
				flat = append(flat, float64(p.X), float64(p.Y))
			}
			ends = append(ends, len(flat))
		}
		endss = append(endss, ends)
	}
	return geom.NewMultiPolygonFlat(geom.XY, flat, endss).SetSRID(srid)
}

// toMeters turns points of the grid into whole meters of a coordinate system.
func toMeters(ctx context.Context, db DB, points []outline.Point, srid int) ([]outline.Point, error) {
	const chunk = 50_000
	out := make([]outline.Point, 0, len(points))
	for len(points) > 0 {
		n := min(chunk, len(points))
		flat := make([]float64, 0, 2*n)
		for _, p := range points[:n] {
			flat = append(flat, float64(p.X)/perDegree, float64(p.Y)/perDegree)
		}
		points = points[n:]
		var moved geom.T
		err := db.QueryRow(ctx, `SELECT ST_Transform($1::geometry, $2::int)`,
			geom.T(geom.NewMultiPointFlat(geom.XY, flat).SetSRID(4326)), srid).Scan(&moved)
		if err != nil {
			return nil, err
		}
		flat = moved.FlatCoords()
		if len(flat) != 2*n {
			return nil, fmt.Errorf("%d of %d corners came back", len(flat)/2, n)
		}
		for i := 0; i < len(flat); i += 2 {
			x, y := math.Round(flat[i]), math.Round(flat[i+1])
			if !(abs(x) <= outline.MaxCoordinate && abs(y) <= outline.MaxCoordinate) {
				return nil, fmt.Errorf("%w: a corner has no place in EPSG:%d", geofile.ErrCRS, srid)
			}
			out = append(out, outline.Point{X: int32(x), Y: int32(y)})
		}
	}
	return out, nil
}

// tolerances gives every place that of its county: a tenth of a millimeter when
// the county fills a letter sheet, less the meter that rounding takes.
func (b *bench) tolerances(c *outline.Coverage, county []int) []int32 {
	of := map[int]int32{}
	least, most := int32(math.MaxInt32), int32(0)
	for i, k := range county {
		if i != k {
			continue
		}
		var lo, hi outline.Point
		first := true
		for _, polygon := range c.Shape(i) {
			for _, p := range polygon[0] {
				if first {
					lo, hi, first = p, p, false
				}
				lo = outline.Point{X: min(lo.X, p.X), Y: min(lo.Y, p.Y)}
				hi = outline.Point{X: max(hi.X, p.X), Y: max(hi.Y, p.Y)}
			}
		}
		of[i] = max(0, max(hi.X-lo.X, hi.Y-lo.Y)/sheetTenths-1)
		least, most = min(least, of[i]), max(most, of[i])
	}
	out := make([]int32, len(county))
	for i, k := range county {
		out[i] = of[k]
	}
	if len(of) > 0 {
		b.found.Tolerance = [2]int{int(least), int(most)}
	}
	return out
}

// keepDrawn copies the outlines into a table. A place that is nothing on a grid
// of meters cannot be one.
func (b *bench) keepDrawn(c *outline.Coverage) error {
	err := b.exec(`CREATE TEMPORARY TABLE drawn (n int PRIMARY KEY, outline geometry) ON COMMIT DROP`)
	if err != nil {
		return err
	}
	var empty []int32
	_, err = b.tx.CopyFrom(b.ctx, pgx.Identifier{"drawn"}, []string{"n", "outline"},
		pgx.CopyFromSlice(c.Len(), func(i int) ([]any, error) {
			s := c.Shape(i)
			if len(s) == 0 {
				empty = append(empty, int32(i+1))
			}
			return []any{i + 1, geom.T(fromShape(s, b.srid))}, nil
		}))
	if err != nil || len(empty) == 0 {
		return err
	}
	f := geofile.Finding{Kind: geofile.NothingLeft, Weight: geofile.Stop}
	err = b.list(&f, `SELECT kind || ' ' || name, '', 0::float8, '', 0::float8, 0::float8 FROM placed WHERE n = ANY ($1)`, empty)
	b.note(f)
	return err
}
