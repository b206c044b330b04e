package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
)

// Duplicate stores a second count of a bag beside the result that stands, to
// watch the lab: it changes no result. fault.ErrNotFound: no such bag, or nothing
// counted on it, or a density that another lab reported.
func (s *Lab) Duplicate(ctx context.Context, code bag.Code, twin assay.Twin, c assay.Count, by account.ID, today time.Time) (err error) {
	defer wrap(&err, "Lab.Duplicate")
	if err = c.Check(); err != nil {
		return err
	}
	if twin.String() == "" {
		return fault.ErrNotFound
	}
	var ml []float64
	var portions []int32
	for _, a := range c.Aliquots {
		ml, portions = append(ml, a.ML), append(portions, int32(a.Eggs))
	}
	tag, err := s.db.Exec(ctx, `
		INSERT INTO priv.duplicate (result, twin, soil_cm3, suspension_ml, portion_ml, portion_eggs, day, by_staff)
		SELECT r.id, $2, $3, $4, $5, $6, $7, $8
		  FROM priv.bag_link l
		  JOIN priv.head r ON r.sample = l.sample AND r.kind = 'counted'
		 WHERE l.bag = $1`, string(code), twin.String(), c.SoilCM3, c.SuspensionML, ml, portions, today, orNull(by))
	if err == nil && tag.RowsAffected() == 0 {
		err = fault.ErrNotFound
	}
	return err
}

// Twins lists a fall's second counts with the results they were made beside.
func (s *Lab) Twins(ctx context.Context, season int) (_ []desk.Twin, err error) {
	defer wrap(&err, "Lab.Twins")
	return s.twins(ctx, `o.season = $1`, season)
}

// Recounted is how many results of a fall's bags took another's place on a day
// because the bag was looked at again, of the same suspension or of another scoop.
func (s *Lab) Recounted(ctx context.Context, season int, day time.Time) (n int, err error) {
	defer wrap(&err, "Lab.Recounted")
	err = s.db.QueryRow(ctx, `
		SELECT count(DISTINCT r.sample)
		  FROM priv.result r
		  JOIN priv.sample m ON m.id = r.sample AND m.season = $1
		 WHERE r.day = $2 AND r.reason IN ($3, $4)`, season, day, string(assay.LookedAgain), string(assay.WashedAgain)).Scan(&n)
	return n, err
}

// Fresh lists the counts of a fall made on or after a day, whose suspensions
// still stand, in the order of days waiting: the longest in the lab first. What is
// on a map is left out.
func (s *Lab) Fresh(ctx context.Context, season int, since time.Time) (_ []desk.Fresh, err error) {
	defer wrap(&err, "Lab.Fresh")
	rows, err := s.db.Query(ctx, `
		SELECT b.code, r.day, coalesce(t.tray, 0), coalesce(t.cup, 0), `+resultColumns+`
		  FROM priv.lot o
		  JOIN priv.bundle u ON u.lot = o.id
		  JOIN priv.bag b ON b.bundle = u.id AND b.state IN ('counted', 'signed')
		  JOIN priv.bag_link l ON l.bag = b.code
		  JOIN priv.head r ON r.sample = l.sample AND r.kind = 'counted' AND r.day >= $2
		  JOIN open.method e ON e.id = r.method
		  LEFT JOIN priv.seat t ON t.bag = b.code
		 WHERE o.season = $1
		 ORDER BY b.received, t.tray, t.cup, b.code`, season, since)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Fresh, error) {
		var f desk.Fresh
		var r resultRow
		err := row.Scan(append([]any{(*string)(&f.Code), &f.Day, &f.Seat.Tray, &f.Seat.Cup}, r.targets()...)...)
		if err != nil {
			return f, err
		}
		f.Reading, err = r.reading()
		return f, err
	})
}
