package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// Program is the program's own settings: its name, rules, levels, methods,
// seasons and offices.
type Program struct{ db DB }

// NewProgram makes the store. Reading works over the Public connection too.
func NewProgram(db DB) *Program { return &Program{db} }

// Found starts a program: its name, the release rules' defaults, and the
// preset methods and schemes, the first of which are in force. Once founded it
// changes the names only.
func (s *Program) Found(ctx context.Context, a desk.About) (err error) {
	defer wrap(&err, "Program.Found")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO open.parameter_set (id) VALUES (1) ON CONFLICT DO NOTHING`)
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			INSERT INTO open.program (name, state, parameters, invented) VALUES ($1, $2, 1, $3)
			ON CONFLICT (only_one) DO UPDATE SET name = excluded.name, state = excluded.state`,
			a.Name, a.State, a.Invented)
		if err != nil {
			return err
		}
		for i, m := range assay.PresetMethods() {
			_, err := tx.Exec(ctx, `
				INSERT INTO open.method (id, name, version, soil_cm3, suspension_ml, aliquot_ml, recovery, eggs_per_cyst)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
				ON CONFLICT DO NOTHING`,
				i+1, m.Name, m.Version, m.SoilCM3, m.SuspensionML, m.AliquotML, m.Recovery, m.EggsPerCyst)
			if err != nil {
				return err
			}
		}
		return addSchemes(ctx, tx)
	})
}

func addSchemes(ctx context.Context, tx pgx.Tx) error {
	for _, sc := range assay.Presets() {
		if err := addScheme(ctx, tx, sc); err != nil {
			return err
		}
	}
	return nil
}

// addScheme stores a level table under the next number, unless its key and version
// are there already.
func addScheme(ctx context.Context, tx pgx.Tx, sc assay.Scheme) error {
	var id int
	err := tx.QueryRow(ctx, `
		INSERT INTO open.scheme (id, key, version, title, source, trace)
		SELECT coalesce(max(id), 0) + 1, $1, $2, $3, $4, $5 FROM open.scheme
		ON CONFLICT (key, version) DO NOTHING
		RETURNING id`, sc.Key, sc.Version, sc.Title, sc.Source, float64(sc.Trace)).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, c := range sc.Classes {
		_, err := tx.Exec(ctx, `
			INSERT INTO open.scheme_class (scheme, rank, name, upper, kind)
			VALUES ($1, $2, $3, $4, $5)`, id, c.Rank, c.Name, infinite(c.Upper), c.Kind.String())
		if err != nil {
			return err
		}
	}
	return nil
}

// About reads the program's names. fault.ErrNotFound: not founded yet.
func (s *Program) About(ctx context.Context) (a desk.About, err error) {
	defer wrap(&err, "Program.About")
	err = s.db.QueryRow(ctx, `SELECT name, state, invented FROM open.program`).Scan(&a.Name, &a.State, &a.Invented)
	return a, err
}

// AddSeason opens a season, or changes its days.
func (s *Program) AddSeason(ctx context.Context, in sample.Season) (err error) {
	defer wrap(&err, "Program.AddSeason")
	_, err = s.db.Exec(ctx, `
		INSERT INTO open.season (year, opens, closes) VALUES ($1, $2, $3)
		ON CONFLICT (year) DO UPDATE SET opens = excluded.opens, closes = excluded.closes`,
		in.Year, in.Opens, in.Closes)
	return err
}

// Seasons lists all seasons, newest first.
func (s *Program) Seasons(ctx context.Context) (_ []sample.Season, err error) {
	defer wrap(&err, "Program.Seasons")
	rows, err := s.db.Query(ctx, `SELECT year, opens, closes FROM open.season ORDER BY year DESC`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[sample.Season])
}

// SetOffice stores a county's office.
func (s *Program) SetOffice(ctx context.Context, o desk.Office) (err error) {
	defer wrap(&err, "Program.SetOffice")
	_, err = s.db.Exec(ctx, `
		INSERT INTO open.office (county, address, hours, drop_off, last_day) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (county) DO UPDATE
		   SET address = excluded.address, hours = excluded.hours,
		       drop_off = excluded.drop_off, last_day = excluded.last_day`,
		int32(o.County), o.Address, o.Hours, o.DropOff, o.LastDay)
	return err
}

// Offices lists all offices by county name.
func (s *Program) Offices(ctx context.Context) (_ []desk.Office, err error) {
	defer wrap(&err, "Program.Offices")
	rows, err := s.db.Query(ctx, `
		SELECT o.county, o.address, o.hours, o.drop_off, o.last_day
		  FROM open.office o
		  JOIN open.place p ON p.id = o.county
		 ORDER BY p.name`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Office, error) {
		var o desk.Office
		err := row.Scan((*int32)(&o.County), &o.Address, &o.Hours, &o.DropOff, &o.LastDay)
		return o, err
	})
}

// Places lists the counties and townships of the current boundary set, by
// county and code.
func (s *Program) Places(ctx context.Context) (_ []place.Place, err error) {
	defer wrap(&err, "Program.Places")
	rows, err := s.db.Query(ctx, `
		SELECT p.id, p.kind, p.code, p.name, p.slug, coalesce(p.county, 0)
		  FROM open.place p
		  JOIN open.place_shape s ON s.place = p.id AND s.set = (SELECT max(id) FROM open.boundary_set)
		 WHERE p.kind IN ('county', 'township')
		 ORDER BY coalesce(p.county, p.id), p.kind, p.code`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (place.Place, error) {
		var p place.Place
		err := row.Scan((*int32)(&p.ID), (*string)(&p.Kind), &p.Code, &p.Name, &p.Slug, (*int32)(&p.County))
		return p, err
	})
}
