package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/place"
)

// PlaceNames finds places by what people call them. It reads what is public
// only and works over the Public connection.
type PlaceNames struct{ db DB }

// NewPlaceNames makes the store.
func NewPlaceNames(db DB) *PlaceNames { return &PlaceNames{db} }

// Find lists places of the current boundary set that a query may mean, the
// likeliest first, at most limit. A county that the query says narrows it.
func (s *PlaceNames) Find(ctx context.Context, q place.Query, limit int) (_ []place.Candidate, err error) {
	defer wrap(&err, "PlaceNames.Find")
	county := 0
	if q.County != "" {
		if county, err = s.county(ctx, q.County); err != nil || county == 0 {
			return nil, err
		}
	}
	switch {
	case q.Survey != nil:
		return s.bySurvey(ctx, *q.Survey, county, limit)
	case q.Name == "":
		return nil, nil
	}
	exact, err := s.byExactName(ctx, q.Name, county, limit)
	if err != nil || len(exact) > 0 {
		return exact, err
	}
	return s.byLikeness(ctx, q.Name, county, limit)
}

const candidateColumns = `p.id, p.kind, p.code, p.name, p.slug, coalesce(p.county, 0), c.id, c.code, c.name, c.slug`

func scanCandidate(row pgx.CollectableRow) (place.Candidate, error) {
	var out place.Candidate
	p, c := &out.Place, &out.County
	c.Kind = place.County
	err := row.Scan((*int32)(&p.ID), (*string)(&p.Kind), &p.Code, &p.Name, &p.Slug, (*int32)(&p.County),
		(*int32)(&c.ID), &c.Code, &c.Name, &c.Slug, (*string)(&out.How), &out.Town, &out.Alike)
	return out, err
}

func (s *PlaceNames) list(ctx context.Context, sql string, args ...any) ([]place.Candidate, error) {
	rows, err := s.db.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, scanCandidate)
}

// bySurvey is Survey.Fits as an indexed query.
func (s *PlaceNames) bySurvey(ctx context.Context, v place.Survey, county, limit int) ([]place.Candidate, error) {
	return s.list(ctx, `
		SELECT `+candidateColumns+`, 'survey', '', 1::float8
		  FROM open.place_survey v
		  JOIN open.place p ON p.id = v.place
		  JOIN open.place c ON c.id = p.county
		 WHERE v.set = (SELECT max(id) FROM open.boundary_set) AND v.township = $1 AND v.range = $2
		   AND ($3 = '' OR v.ns IN ('', $3)) AND ($4 = '' OR v.ew IN ('', $4))
		   AND ($5 = 0 OR v.meridian IN (0, $5)) AND ($6 = 0 OR p.county = $6)
		 ORDER BY c.name, v.meridian, v.ns, v.ew, p.id
		 LIMIT $7`, int(v.Township), int(v.Range), v.NorthSouth.String(), v.EastWest.String(), int(v.Meridian), county, limit)
}

func (s *PlaceNames) byExactName(ctx context.Context, name string, county, limit int) ([]place.Candidate, error) {
	return s.list(ctx, `
		SELECT `+candidateColumns+`, n.kind, CASE WHEN n.kind = 'town' THEN n.name ELSE '' END, 1::float8
		  FROM (SELECT DISTINCT ON (place) *
		          FROM open.place_name
		         WHERE set = (SELECT max(id) FROM open.boundary_set) AND folded = $1
		         ORDER BY place, kind) n
		  JOIN open.place p ON p.id = n.place
		  JOIN open.place c ON c.id = coalesce(p.county, p.id)
		 WHERE $2 = 0 OR $2 IN (p.id, p.county)
		 ORDER BY n.kind, p.kind DESC, c.name, p.id
		 LIMIT $3`, name, county, limit)
}

// byLikeness tolerates slips: names are alike by the groups of three letters
// that they share (pg_trgm).
func (s *PlaceNames) byLikeness(ctx context.Context, name string, county, limit int) ([]place.Candidate, error) {
	return s.list(ctx, `
		SELECT `+candidateColumns+`, n.kind, CASE WHEN n.kind = 'town' THEN n.name ELSE '' END, least(n.alike, 0.99)::float8
		  FROM (SELECT DISTINCT ON (place) *
		          FROM (SELECT *, similarity(folded, $1) AS alike
		                  FROM open.place_name
		                 WHERE kind <> 'code' AND folded % $1 AND set = (SELECT max(id) FROM open.boundary_set)
		                 ORDER BY alike DESC, place
		                 LIMIT 10 * $3) m
		         ORDER BY place, alike DESC, kind) n
		  JOIN open.place p ON p.id = n.place
		  JOIN open.place c ON c.id = coalesce(p.county, p.id)
		 WHERE $2 = 0 OR $2 IN (p.id, p.county)
		 ORDER BY n.alike DESC, n.kind, c.name, p.id
		 LIMIT $3`, name, county, limit)
}

// county is the one county that a folded name means: exactly, or the one most
// like it; 0 for none.
func (s *PlaceNames) county(ctx context.Context, name string) (id int, err error) {
	// Both ways by an index: among names alike are most townships of a large set.
	err = s.db.QueryRow(ctx, `
		SELECT n.place
		  FROM open.place_name n
		  JOIN open.place p ON p.id = n.place AND p.kind = 'county'
		 WHERE n.set = (SELECT max(id) FROM open.boundary_set) AND n.kind IN ('name', 'code') AND n.folded = $1
		 ORDER BY n.place
		 LIMIT 1`, name).Scan(&id)
	if err != pgx.ErrNoRows {
		return id, err
	}
	err = s.db.QueryRow(ctx, `
		SELECT n.place
		  FROM open.place_name n
		  JOIN open.place p ON p.id = n.place AND p.kind = 'county'
		 WHERE n.set = (SELECT max(id) FROM open.boundary_set) AND n.kind = 'name' AND n.folded % $1 AND similarity(n.folded, $1) >= 0.5
		 ORDER BY similarity(n.folded, $1) DESC, n.place
		 LIMIT 1`, name).Scan(&id)
	if err == pgx.ErrNoRows {
		return 0, nil
	}
	return id, err
}

// Index writes down how the places of the current boundary set may be called,
// unless that is done. Accepting boundaries does it, and the set-up for databases
// from before there were names. It works over a Staff or Admin connection.
func (s *PlaceNames) Index(ctx context.Context) (err error) {
	defer wrap(&err, "PlaceNames.Index")
	return inTx(ctx, s.db, func(tx pgx.Tx) error { return indexPlaceNames(ctx, tx) })
}

// indexPlaceNames is Index within a transaction.
func indexPlaceNames(ctx context.Context, db DB) error {
	var set int
	err := db.QueryRow(ctx, `
		SELECT b.id
		  FROM open.boundary_set b
		 WHERE b.id = (SELECT max(id) FROM open.boundary_set)
		   AND NOT EXISTS (SELECT FROM open.place_name n WHERE n.set = b.id AND n.kind <> 'town')`).Scan(&set)
	if err == pgx.ErrNoRows {
		return nil
	}
	if err != nil {
		return err
	}
	rows, err := db.Query(ctx, `
		SELECT p.id, p.kind, p.code, p.name
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place AND p.kind IN ('county', 'township')
		 WHERE s.set = $1
		 ORDER BY p.id`, set)
	if err != nil {
		return err
	}
	var names, surveys [][]any
	var id int32
	var kind, code, name string
	_, err = pgx.ForEachRow(rows, []any{&id, &kind, &code, &name}, func() error {
		for _, n := range [][2]string{{"name", name}, {"code", code}} {
			if folded := place.Fold(n[1]); folded != "" {
				names = append(names, []any{set, id, n[0], n[1], folded})
			}
		}
		if v, ok := surveyOf(code, name); ok && kind == "township" {
			surveys = append(surveys, []any{set, id, int(v.Township), v.NorthSouth.String(), int(v.Range), v.EastWest.String(), int(v.Meridian)})
		}
		return nil
	})
	if err != nil {
		return err
	}
	_, err = db.CopyFrom(ctx, pgx.Identifier{"open", "place_name"},
		[]string{"set", "place", "kind", "name", "folded"}, pgx.CopyFromRows(names))
	if err != nil {
		return err
	}
	_, err = db.CopyFrom(ctx, pgx.Identifier{"open", "place_survey"},
		[]string{"set", "place", "township", "ns", "range", "ew", "meridian"}, pgx.CopyFromRows(surveys))
	if err != nil {
		return err
	}
	return indexTowns(ctx, db)
}

// surveyOf reads the survey numbers of a loaded township from its code, else
// from its name.
func surveyOf(code, name string) (place.Survey, bool) {
	for _, text := range []string{code, name} {
		if v, err := place.ParseSurvey(text); err == nil {
			return v, true
		}
	}
	return place.Survey{}, false
}

// indexTowns notes which township each town of the current set lies in.
func indexTowns(ctx context.Context, db DB) error {
	rows, err := db.Query(ctx, `
		SELECT DISTINCT ON (l.id) l.set, s.place, l.name
		  FROM open.layer l
		  JOIN open.place_shape s ON s.set = l.set AND s.outline && l.outline AND ST_Intersects(s.outline, l.outline)
		  JOIN open.place p ON p.id = s.place AND p.kind = 'township'
		 WHERE l.kind = 'town' AND l.set = (SELECT max(id) FROM open.boundary_set)
		 ORDER BY l.id, s.place`)
	if err != nil {
		return err
	}
	type town struct {
		set, place int
		name       string
	}
	towns, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (t town, err error) {
		err = row.Scan(&t.set, &t.place, &t.name)
		return t, err
	})
	if err != nil {
		return err
	}
	for _, t := range towns {
		folded := place.Fold(t.name)
		if folded == "" {
			continue
		}
		_, err := db.Exec(ctx, `
			INSERT INTO open.place_name (set, place, kind, name, folded) VALUES ($1, $2, 'town', $3, $4)
			ON CONFLICT DO NOTHING`, t.set, t.place, t.name, folded)
		if err != nil {
			return err
		}
	}
	return nil
}
