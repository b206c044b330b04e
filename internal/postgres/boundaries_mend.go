package postgres

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/geofile"
)

// mend makes outlines that cross themselves valid, and takes out those that
// have no area even then.
func (b *bench) mend() error {
	rows, err := b.tx.Query(b.ctx, `
		WITH bad AS (
		    SELECT n, kind, name, geom, ST_IsValidReason(geom) AS reason
		      FROM raw_shape
		     WHERE NOT ST_IsValid(geom)
		), mended AS (
		    SELECT *, ST_Multi(ST_CollectionExtract(ST_MakeValid(geom, 'method=structure keepcollapsed=false'), 3)) AS whole
		      FROM bad
		), kept AS (
		    UPDATE raw_shape r SET geom = m.whole FROM mended m WHERE m.n = r.n
		)
		SELECT kind || ' ' || name, reason, ST_NRings(geom), ST_NRings(whole),
		       ST_Area(whole::geography) - ST_Area(geom::geography)
		  FROM mended
		 ORDER BY n`)
	if err != nil {
		return err
	}
	mended := geofile.Finding{Kind: geofile.Repaired, Weight: geofile.Look}
	var name, reason string
	var before, after int
	var change float64
	_, err = pgx.ForEachRow(rows, []any{&name, &reason, &before, &after, &change}, func() error {
		item := geofile.Item{Places: []string{name}, Area: change}
		item.Detail, item.Lon, item.Lat = plainReason(reason)
		item.Detail += fmt.Sprintf(", %s became %s", ringCount(before), ringCount(after))
		add(&mended, item)
		return nil
	})
	if err != nil {
		return err
	}
	b.note(mended)
	rows, err = b.tx.Query(b.ctx, `
		DELETE FROM raw_shape WHERE ST_IsEmpty(geom) OR ST_Area(geom) = 0 RETURNING kind || ' ' || name`)
	if err != nil {
		return err
	}
	nothing := geofile.Finding{Kind: geofile.NothingLeft, Weight: geofile.Stop}
	_, err = pgx.ForEachRow(rows, []any{&name}, func() error {
		add(&nothing, geofile.Item{Places: []string{name}})
		return nil
	})
	if err != nil {
		return err
	}
	b.note(nothing)
	if err := b.exec(`CREATE INDEX ON raw_shape USING gist (geom); ANALYZE raw_shape`); err != nil {
		return err
	}
	for kind, into := range map[string]*geofile.Layout{"county": &b.found.Counties, "township": &b.found.Townships} {
		err := b.tx.QueryRow(b.ctx, `
			SELECT count(*), coalesce(sum(ST_NRings(geom)), 0), coalesce(sum(ST_NPoints(geom)), 0),
			       coalesce(sum(ST_Area(geom::geography)), 0), coalesce(min(ST_XMin(geom)), 0),
			       coalesce(min(ST_YMin(geom)), 0), coalesce(max(ST_XMax(geom)), 0), coalesce(max(ST_YMax(geom)), 0)
			  FROM raw_shape
			 WHERE kind = $1`, kind).
			Scan(&into.Features, &into.Rings, &into.Points, &into.Area, &into.West, &into.South, &into.East, &into.North)
		if err != nil {
			return err
		}
	}
	return nil
}

func ringCount(n int) string {
	if n == 1 {
		return "1 ring"
	}
	return strconv.Itoa(n) + " rings"
}

// maxItems is how many items of a finding are kept: the largest.
const maxItems = 20

// add counts an item and keeps it if it is among the largest.
func add(f *geofile.Finding, item geofile.Item) {
	f.Total++
	f.Area += item.Area
	at := len(f.Items)
	for at > 0 && abs(f.Items[at-1].Area) < abs(item.Area) {
		at--
	}
	if at == maxItems {
		return
	}
	f.Items = append(f.Items, geofile.Item{})
	copy(f.Items[at+1:], f.Items[at:])
	f.Items[at] = item
	f.Items = f.Items[:min(len(f.Items), maxItems)]
}

func abs(v float64) float64 { return max(v, -v) }

// reasonAt takes "Self-intersection[-93.5 42]" apart.
var reasonAt = regexp.MustCompile(`^([^\[]+)\[(-?[0-9.e+-]+) (-?[0-9.e+-]+)\]$`)

// plainReason says in plain words what PostGIS finds wrong with an outline, and
// where.
func plainReason(reason string) (words string, lon, lat float64) {
	words = reason
	if m := reasonAt.FindStringSubmatch(reason); m != nil {
		words = m[1]
		lon, _ = strconv.ParseFloat(m[2], 64) // a place that cannot be read is left out
		lat, _ = strconv.ParseFloat(m[3], 64)
	}
	switch words {
	case "Self-intersection":
		return "it crosses itself", lon, lat
	case "Ring Self-intersection":
		return "it touches itself", lon, lat
	case "Hole lies outside shell":
		return "a hole lies outside it", lon, lat
	case "Nested shells", "Nested holes":
		return "one part lies within another", lon, lat
	case "Duplicate Rings":
		return "a part is there twice", lon, lat
	case "Interior is disconnected":
		return "a hole cuts it in two", lon, lat
	}
	return strings.ToLower(words), lon, lat
}
