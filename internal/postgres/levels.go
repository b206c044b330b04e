package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
)

// Levels reads the level table in force and the lab's methods. The Public
// connection will do.
type Levels struct{ db DB }

// NewLevels makes the store.
func NewLevels(db DB) *Levels { return &Levels{db} }

// Scheme is the level table in force.
func (s *Levels) Scheme(ctx context.Context) (_ assay.Scheme, err error) {
	defer wrap(&err, "Levels.Scheme")
	return readScheme(ctx, s.db, 1)
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
