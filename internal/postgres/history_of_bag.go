package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
)

// History reads everything that happened to a bag. fault.ErrNotFound: no such bag.
func (s *Lab) History(ctx context.Context, code bag.Code) (h desk.History, err error) {
	defer wrap(&err, "Lab.History")
	h.Code = code
	err = s.db.QueryRow(ctx, `
		SELECT v.state, o.season, o.issued, b.received, coalesce(b.condition, ''), coalesce(t.tray, 0), coalesce(t.cup, 0),
		       coalesce(m.source, ''),
		       coalesce((SELECT f.code FROM priv.bundle n JOIN priv.bag f ON f.bundle = n.id WHERE n.follows = m.id), ''),
		       coalesce((SELECT k.bag FROM priv.bag_link k WHERE k.sample = u.follows), '')
		  FROM priv.bag b
		  JOIN priv.bag_state v ON v.code = b.code
		  JOIN priv.bundle u ON u.id = b.bundle
		  JOIN priv.lot o ON o.id = u.lot
		  LEFT JOIN priv.seat t ON t.bag = b.code
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		  LEFT JOIN priv.sample m ON m.id = l.sample
		 WHERE b.code = $1`, string(code)).
		Scan((*string)(&h.State), &h.Season, &h.Issued, &h.Received, (*string)(&h.Condition), &h.Seat.Tray, &h.Seat.Cup,
			(*string)(&h.Source), (*string)(&h.FollowUp), (*string)(&h.Follows))
	if err != nil {
		return h, err
	}
	if h.Results, err = s.results(ctx, code); err != nil {
		return h, err
	}
	if h.Twins, err = s.twins(ctx, `l.bag = $1`, string(code)); err != nil {
		return h, err
	}
	rows, err := s.db.Query(ctx, `
		SELECT day, reason, settled FROM priv.queue_item WHERE code = $1 ORDER BY day, id`, string(code))
	if err != nil {
		return h, err
	}
	h.Claims, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Claim, error) {
		var c desk.Claim
		return c, row.Scan(&c.Day, &c.Reason, &c.Settled)
	})
	return h, err
}

// results are a bag's results in the order in which each took the place of the
// one before.
func (s *Lab) results(ctx context.Context, code bag.Code) ([]desk.Standing, error) {
	rows, err := s.db.Query(ctx, `
		WITH RECURSIVE chain AS (
		    SELECT r.id, 1 AS n
		      FROM priv.bag_link l
		      JOIN priv.result r ON r.sample = l.sample AND r.supersedes IS NULL
		     WHERE l.bag = $1
		    UNION ALL
		    SELECT r.id, c.n + 1 FROM chain c JOIN priv.result r ON r.supersedes = c.id
		)
		SELECT r.day, coalesce(p.login, ''), coalesce(r.reason, ''), t.day, `+resultColumns+`
		  FROM chain c
		  JOIN priv.result r ON r.id = c.id
		  JOIN open.method e ON e.id = r.method
		  LEFT JOIN priv.staff p ON p.id = r.by_staff
		  LEFT JOIN priv.signature g ON g.result = r.id
		  LEFT JOIN priv.batch t ON t.id = g.batch
		 ORDER BY c.n`, string(code))
	if err != nil {
		return nil, err
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Standing, error) {
		var d desk.Standing
		var r resultRow
		err := row.Scan(append([]any{&d.Day, &d.By, (*string)(&d.Why), &d.Signed}, r.targets()...)...)
		if err != nil {
			return d, err
		}
		d.ID, d.Count, d.Method = desk.ID(*r.id), r.count(), r.method()
		d.Reading, err = r.reading()
		return d, err
	})
	if len(out) > 0 {
		out[len(out)-1].Stands = true
	}
	return out, err
}

// twins are second counts with the results they were made beside, by day.
func (s *Lab) twins(ctx context.Context, where string, args ...any) ([]desk.Twin, error) {
	rows, err := s.db.Query(ctx, `
		SELECT l.bag, d.day, d.twin, d.soil_cm3, d.suspension_ml, d.portion_ml, d.portion_eggs, `+resultColumns+`
		  FROM priv.duplicate d
		  JOIN priv.result r ON r.id = d.result
		  JOIN open.method e ON e.id = r.method
		  JOIN priv.bag_link l ON l.sample = r.sample
		  JOIN priv.bag b ON b.code = l.bag
		  JOIN priv.bundle u ON u.id = b.bundle
		  JOIN priv.lot o ON o.id = u.lot
		 WHERE `+where+`
		 ORDER BY d.day, d.id`, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Twin, error) {
		var d desk.Twin
		var kind string
		var ml []float64
		var portions []int32
		var r resultRow
		err := row.Scan(append([]any{(*string)(&d.Code), &d.Day, &kind, &d.Second.SoilCM3, &d.Second.SuspensionML, &ml, &portions}, r.targets()...)...)
		if err != nil {
			return d, err
		}
		for i := range ml {
			d.Second.Aliquots = append(d.Second.Aliquots, assay.Aliquot{ML: ml[i], Eggs: int(portions[i])})
		}
		d.Kind = assay.SameSuspension
		if kind == assay.SameBag.String() {
			d.Kind = assay.SameBag
		}
		d.First, d.Method = r.count(), r.method()
		return d, nil
	})
}
