package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/desk"
)

// Levels reads the level table in force and the lab's methods. The Public
// connection will do.
type Levels struct{ db DB }

// NewLevels makes the store.
func NewLevels(db DB) *Levels { return &Levels{db} }

// Scheme is the level table in force.
func (s *Levels) Scheme(ctx context.Context) (_ assay.Scheme, err error) {
	defer wrap(&err, "Levels.Scheme")
	var id int
	if err := s.db.QueryRow(ctx, `SELECT open.scheme_in_force()`).Scan(&id); err != nil {
		return assay.Scheme{}, err
	}
	return readScheme(ctx, s.db, id)
}

// List gives the methods, oldest first: the first is the one the lab uses
// unless it says otherwise.
func (s *Levels) List(ctx context.Context) (_ []assay.Method, err error) {
	defer wrap(&err, "Levels.List")
	return readMethods(ctx, s.db)
}

func readMethods(ctx context.Context, db DB) ([]assay.Method, error) {
	rows, err := db.Query(ctx, `
		SELECT name, version, soil_cm3, suspension_ml, aliquot_ml, recovery, eggs_per_cyst
		  FROM open.method
		 ORDER BY id`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[assay.Method])
}

// Methods gives the methods by the number results name them by.
func (s *Levels) Methods(ctx context.Context) (_ map[int]assay.Method, err error) {
	defer wrap(&err, "Levels.Methods")
	rows, err := s.db.Query(ctx, `
		SELECT id, name, version, soil_cm3, suspension_ml, aliquot_ml, recovery, eggs_per_cyst
		  FROM open.method`)
	if err != nil {
		return nil, err
	}
	out := map[int]assay.Method{}
	var id int
	var m assay.Method
	_, err = pgx.ForEachRow(rows, []any{&id, &m.Name, &m.Version, &m.SoilCM3, &m.SuspensionML,
		&m.AliquotML, &m.Recovery, &m.EggsPerCyst}, func() error {
		out[id] = m
		return nil
	})
	return out, err
}

// Recipes lists the methods with their sieves, oldest first.
func (s *Levels) Recipes(ctx context.Context) (_ []desk.Recipe, err error) {
	defer wrap(&err, "Levels.Recipes")
	rows, err := s.db.Query(ctx, `
		SELECT name, version, soil_cm3, suspension_ml, aliquot_ml, recovery, eggs_per_cyst, coalesce(sieves, '')
		  FROM open.method
		 ORDER BY id`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Recipe, error) {
		var r desk.Recipe
		return r, row.Scan(&r.Name, &r.Version, &r.SoilCM3, &r.SuspensionML, &r.AliquotML, &r.Recovery, &r.EggsPerCyst, &r.Sieves)
	})
}

// AddMethod stores a recipe as the next version of its name; over a Staff
// connection. The same recipe as the newest of its name is stored once. The error
// is assay's for one that cannot stand.
func (s *Levels) AddMethod(ctx context.Context, r desk.Recipe) (err error) {
	defer wrap(&err, "Levels.AddMethod")
	if err = r.Check(); err != nil {
		return err
	}
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile methods'))`); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `
			INSERT INTO open.method (id, name, version, soil_cm3, suspension_ml, aliquot_ml, recovery, eggs_per_cyst, sieves)
			SELECT (SELECT coalesce(max(id), 0) + 1 FROM open.method), $1, (SELECT coalesce(max(version), 0) + 1 FROM open.method WHERE name = $1),
			       $2, $3, $4, $5, $6, nullif($7, '')
			 WHERE NOT EXISTS (
			       SELECT FROM open.method m
			        WHERE m.name = $1 AND m.version = (SELECT max(version) FROM open.method WHERE name = $1)
			          AND (m.soil_cm3, m.suspension_ml, m.aliquot_ml, m.recovery, m.eggs_per_cyst, coalesce(m.sieves, '')) = ($2, $3, $4, $5, $6, $7))`,
			r.Name, r.SoilCM3, r.SuspensionML, r.AliquotML, r.Recovery, r.EggsPerCyst, r.Sieves)
		return err
	})
}
