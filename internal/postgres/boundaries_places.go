package postgres

import (
	"fmt"
	"math"
	"runtime"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/twpayne/go-geom"
	"golang.org/x/sync/errgroup"

	"sixmile/internal/outline"
	"sixmile/internal/place"
)

// keepPlaces gives every place its id: the one it had, or the next free one. A
// place known again takes the new code, name and address part.
func (a *accepting) keepPlaces() error {
	taken, last, err := a.takenSlugs()
	if err != nil {
		return err
	}
	a.slugs = map[int]string{}
	var fresh [][]any
	var ids []int32
	var codes, names, slugs []string
	for i := range a.places {
		p := &a.places[i]
		county := int32(0)
		if p.county > 0 {
			county = a.places[p.county-1].id
		}
		known := p.id != 0
		if !known {
			last++
			p.id = last
		}
		s := taken.take(county, p.id, p.code, p.name)
		if p.kind == "county" {
			a.slugs[i] = s
		}
		if known {
			ids, codes, names, slugs = append(ids, p.id), append(codes, p.code), append(names, p.name), append(slugs, s)
			continue
		}
		row := []any{p.id, p.kind, p.code, p.name, s, nil}
		if county > 0 {
			row[5] = county
		}
		fresh = append(fresh, row)
	}
	_, err = a.tx.Exec(a.ctx, `
		UPDATE open.place p
		   SET code = v.code, name = v.name, slug = v.slug
		  FROM unnest($1::int[], $2::text[], $3::text[], $4::text[]) v(id, code, name, slug)
		 WHERE p.id = v.id AND (p.code, p.name, p.slug) <> (v.code, v.name, v.slug)`, ids, codes, names, slugs)
	if err != nil {
		return err
	}
	_, err = a.tx.CopyFrom(a.ctx, pgx.Identifier{"open", "place"},
		[]string{"id", "kind", "code", "name", "slug", "county"}, pgx.CopyFromRows(fresh))
	return err
}

// slugBook knows which parts of addresses are taken, by county: 0 holds those of
// counties themselves.
type slugBook map[int32]map[string]int32

// take gives a place the slug of its name, or that with its code where another
// place has it.
func (b slugBook) take(county, id int32, code, name string) string {
	if b[county] == nil {
		b[county] = map[string]int32{}
	}
	tried := slug(code, name)
	for n := 1; ; n++ {
		if owner, is := b[county][tried]; !is || owner == id {
			b[county][tried] = id
			return tried
		}
		tried = slug(code, name) + "-" + place.Slug("x " + code)[2:]
		if n > 1 {
			tried += fmt.Sprintf("-%d", n)
		}
	}
}

// slug is the name's place in an address; a name without a Latin letter is
// found by its code.
func slug(code, name string) string {
	if s := place.Slug(name); s != "" {
		return s
	}
	return place.Slug("place " + code)
}

// takenSlugs reads the slugs of all places there ever were, and the last id.
func (a *accepting) takenSlugs() (slugBook, int32, error) {
	rows, err := a.tx.Query(a.ctx, `SELECT id, coalesce(county, 0), slug FROM open.place WHERE kind <> 'district'`)
	if err != nil {
		return nil, 0, err
	}
	book := slugBook{}
	var id, county int32
	var s string
	if _, err = pgx.ForEachRow(rows, []any{&id, &county, &s}, func() error {
		if book[county] == nil {
			book[county] = map[string]int32{}
		}
		book[county][s] = id
		return nil
	}); err != nil {
		return nil, 0, err
	}
	var last int32
	err = a.tx.QueryRow(a.ctx, `SELECT coalesce(max(id), 0) FROM open.place`).Scan(&last)
	return book, last, err
}

// cutDistricts cuts each county's townships into districts, from the boundaries
// alone. A district's code carries the set: districts stay with the boundaries
// they were cut from.
func (a *accepting) cutDistricts() error {
	cells := make([][]place.Cell, a.counties)
	index := map[place.ID]int{}
	for i, p := range a.places {
		if p.kind != "township" {
			continue
		}
		x, y, area := center(a.cover.Shape(i))
		index[place.ID(p.id)] = i
		cells[p.county-1] = append(cells[p.county-1], place.Cell{ID: place.ID(p.id), X: x, Y: y, Area: area})
	}
	var last int32
	if err := a.tx.QueryRow(a.ctx, `SELECT max(id) FROM open.place`).Scan(&last); err != nil {
		return err
	}
	groups := make([][][]place.ID, a.counties)
	var work errgroup.Group
	work.SetLimit(runtime.GOMAXPROCS(0))
	for c := range cells {
		if len(cells[c]) > 0 {
			work.Go(func() error {
				groups[c] = place.CutDistricts(cells[c], a.adjacent)
				return nil
			})
		}
	}
	if err := work.Wait(); err != nil {
		return err
	}
	var places, members, shapes [][]any
	for c := range cells {
		county := a.places[c]
		for nth, group := range groups[c] {
			last++
			name := fmt.Sprintf("%s %d", county.name, nth+1)
			places = append(places, []any{last, "district", fmt.Sprintf("%d-%d", a.set, nth+1), name,
				fmt.Sprintf("%s-%d", a.slugs[c], nth+1), county.id})
			slices.Sort(group)
			var union []int
			for _, t := range group {
				members = append(members, []any{a.set, int32(t), last})
				union = append(union, index[t])
			}
			shapes = append(shapes, []any{last, geom.T(fromShape(a.cover.Union(union), a.srid))})
		}
	}
	a.districts = len(places)
	return a.keepDistricts(places, members, shapes)
}

func (a *accepting) keepDistricts(places, members, shapes [][]any) error {
	if _, err := a.tx.Exec(a.ctx, `
		DROP TABLE IF EXISTS pg_temp.district_shape;
		CREATE TEMPORARY TABLE district_shape (place int, outline geometry) ON COMMIT DROP`); err != nil {
		return err
	}
	for _, c := range []struct {
		table   pgx.Identifier
		columns []string
		rows    [][]any
	}{
		{pgx.Identifier{"open", "place"}, []string{"id", "kind", "code", "name", "slug", "county"}, places},
		{pgx.Identifier{"open", "district"}, []string{"set", "township", "district"}, members},
		{pgx.Identifier{"district_shape"}, []string{"place", "outline"}, shapes},
	} {
		if _, err := a.tx.CopyFrom(a.ctx, c.table, c.columns, pgx.CopyFromRows(c.rows)); err != nil {
			return err
		}
	}
	_, err := a.tx.Exec(a.ctx, `
		INSERT INTO open.place_shape (set, place, code, name, geom, outline)
		SELECT $1, p.id, p.code, p.name, ST_Multi(ST_Union(s.geom)), d.outline
		  FROM district_shape d
		  JOIN open.place p ON p.id = d.place
		  JOIN open.district m ON m.set = $1 AND m.district = p.id
		  JOIN open.place_shape s ON s.set = $1 AND s.place = m.township
		 GROUP BY p.id, d.outline`, a.set)
	return err
}

// center is the centroid and the area of an outline. The conversions keep
// products from being fused with sums, which would differ between machines.
func center(s outline.Shape) (x, y int32, area float64) {
	if len(s) == 0 {
		return 0, 0, 0
	}
	o := s[0][0][0]
	var sum, sx, sy float64
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				ax, ay := float64(ring[i-1].X-o.X), float64(ring[i-1].Y-o.Y)
				bx, by := float64(ring[i].X-o.X), float64(ring[i].Y-o.Y)
				c := float64(ax*by) - float64(ay*bx)
				sum += c
				sx += float64((ax + bx) * c)
				sy += float64((ay + by) * c)
			}
		}
	}
	if sum == 0 {
		return o.X, o.Y, 0
	}
	return o.X + int32(math.Round(sx/(3*sum))), o.Y + int32(math.Round(sy/(3*sum))), sum / 2
}

func ids(in []place.ID) []int32 {
	out := make([]int32, len(in))
	for i, v := range in {
		out[i] = int32(v)
	}
	return out
}
