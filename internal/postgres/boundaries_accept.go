package postgres

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"

	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/outline"
	"sixmile/internal/place"
)

// accept puts what was laid out in force.
func (s *Boundaries) accept(ctx context.Context, tx pgx.Tx, t geofile.Ticket, today time.Time) (out Accepted, err error) {
	st, err := readStage(ctx, tx, t)
	if err != nil {
		return out, err
	}
	if known, err := findSet(ctx, tx, st.digest); err != nil || known > 0 {
		if err == nil {
			out, err = knownSet(ctx, tx, known)
		}
		return out, err
	}
	if st.found.Stopped() {
		return out, &geofile.Refused{Inspection: st.found}
	}
	base, err := currentSet(ctx, tx)
	if err != nil {
		return out, err
	}
	if base != st.base {
		return out, fmt.Errorf("other boundaries were accepted since: %w", fault.ErrConflict)
	}
	a := &accepting{ctx: ctx, tx: tx, ticket: t, set: base + 1, srid: st.srid}
	for i, step := range []struct {
		name string
		do   func() error
	}{
		{"places", a.read},
		{"places", func() error { return a.addSet(st.digest, today) }},
		{"places", a.keepPlaces},
		{"outlines", a.keepShapes},
		{"neighbors", func() error { return a.neighbors(messy(st.found)) }},
		{"districts", a.cutDistricts},
		{"reference layers", func() error { return a.carryLayers(base) }},
		{"names", func() error { return indexPlaceNames(ctx, tx) }},
	} {
		s.tell(step.name, float64(i)/8)
		if err := step.do(); err != nil {
			return out, err
		}
	}
	s.tell("done", 1)
	if _, err = tx.Exec(ctx, `DELETE FROM priv.stage WHERE ticket = $1`, [16]byte(t)); err != nil {
		return out, err
	}
	return Accepted{Set: a.set, Counties: a.counties, Townships: len(a.places) - a.counties, Districts: a.districts, New: true}, nil
}

// messy reports whether neighbors may fail to share edges.
func messy(i geofile.Inspection) bool {
	for _, k := range []geofile.FindingKind{geofile.Overlap, geofile.CountyOverlap, geofile.Sliver, geofile.Gap, geofile.CountyGap} {
		if i.Find(k).Total > 0 {
			return true
		}
	}
	return false
}

// accepting is the acceptance of one set.
type accepting struct {
	ctx       context.Context
	tx        pgx.Tx
	ticket    geofile.Ticket
	set, srid int

	places    []placeRow // by n-1: counties first
	counties  int
	districts int
	slugs     map[int]string // by index, those of counties
	cover     *outline.Coverage
	adjacent  map[place.ID][]place.ID
}

// read reads places and outlines as they were laid out. The outlines are whole
// and meet in corners only, so they make the same coverage again.
func (a *accepting) read() error {
	rows, err := a.tx.Query(a.ctx, `
		SELECT n, coalesce(county, 0), kind, code, name, coalesce(place, 0)
		  FROM priv.stage_shape
		 WHERE ticket = $1
		 ORDER BY n`, [16]byte(a.ticket))
	if err != nil {
		return err
	}
	if a.places, err = readPlaceRows(rows); err != nil {
		return err
	}
	if len(a.places) == 0 {
		return pgx.ErrNoRows // lost in a crash
	}
	rows, err = a.tx.Query(a.ctx, `SELECT outline FROM priv.stage_shape WHERE ticket = $1 ORDER BY n`, [16]byte(a.ticket))
	if err != nil {
		return err
	}
	shapes := make([]outline.Shape, 0, len(a.places))
	var shape geom.T
	if _, err = pgx.ForEachRow(rows, []any{&shape}, func() error {
		shapes = append(shapes, toShape(shape, 1))
		return nil
	}); err != nil {
		return err
	}
	for _, p := range a.places {
		if p.kind == "county" {
			a.counties++
		}
	}
	a.cover, err = outline.New(shapes)
	return err
}

func (a *accepting) addSet(digest []byte, today time.Time) error {
	all := make([]int, a.counties)
	for i := range all {
		all[i] = i
	}
	_, err := a.tx.Exec(a.ctx, `
		INSERT INTO open.boundary_set (id, digest, accepted, srid, outline) VALUES ($1, $2, $3, $4, $5)`,
		a.set, digest, today, a.srid, geom.T(fromShape(a.cover.Union(all), a.srid)))
	return err
}

// keepShapes copies exact and drawn outlines over.
func (a *accepting) keepShapes() error {
	ids := make([]int32, len(a.places))
	for i, p := range a.places {
		ids[i] = p.id
	}
	_, err := a.tx.Exec(a.ctx, `
		INSERT INTO open.place_shape (set, place, code, name, geom, outline)
		SELECT $2, ($3::int[])[n], code, name, geom, outline
		  FROM priv.stage_shape
		 WHERE ticket = $1`, [16]byte(a.ticket), a.set, ids)
	return err
}

// leastBorder is how many meters of border make neighbors: a corner does not.
const leastBorder = 200

// neighbors stores which places of a kind share a border. Where layers do not
// fit, those count too whose borders run within thirty meters of each other.
func (a *accepting) neighbors(messy bool) error {
	pairs := map[[2]int32]bool{}
	for _, b := range a.cover.Borders() {
		p, q := a.places[b.A], a.places[b.B]
		if p.kind == q.kind && b.Length > leastBorder {
			pairs[[2]int32{min(p.id, q.id), max(p.id, q.id)}] = true
		}
	}
	if messy {
		rows, err := a.tx.Query(a.ctx, `
			SELECT a.place, b.place
			  FROM open.place_shape a
			  JOIN open.place pa ON pa.id = a.place
			  JOIN open.place_shape b ON b.set = a.set AND b.place - a.place > 0 AND b.outline && ST_Expand(a.outline, 30)
			  JOIN open.place pb ON pb.id = b.place AND pb.kind = pa.kind
			 WHERE a.set = $1
			   AND ST_Length(ST_Intersection(ST_Boundary(a.outline), ST_Buffer(b.outline, 30, 2))) > $2`, a.set, leastBorder)
		if err != nil {
			return err
		}
		var one, two int32
		if _, err := pgx.ForEachRow(rows, []any{&one, &two}, func() error {
			pairs[[2]int32{one, two}] = true
			return nil
		}); err != nil {
			return err
		}
	}
	a.adjacent = map[place.ID][]place.ID{}
	rows := make([][]any, 0, len(pairs))
	for p := range pairs {
		rows = append(rows, []any{a.set, p[0], p[1]})
		a.adjacent[place.ID(p[0])] = append(a.adjacent[place.ID(p[0])], place.ID(p[1]))
		a.adjacent[place.ID(p[1])] = append(a.adjacent[place.ID(p[1])], place.ID(p[0]))
	}
	slices.SortFunc(rows, func(x, y []any) int {
		return slices.Compare([]int32{x[1].(int32), x[2].(int32)}, []int32{y[1].(int32), y[2].(int32)})
	})
	_, err := a.tx.CopyFrom(a.ctx, pgx.Identifier{"open", "adjacency"}, []string{"set", "a", "b"}, pgx.CopyFromRows(rows))
	return err
}
