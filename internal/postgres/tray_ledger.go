package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
)

// Stray notes soil that is no bag of the program's. The same code again, while
// it waits for a person, and the same sending of a page again note nothing.
func (s *Trays) Stray(ctx context.Context, in desk.Stray, form sample.Token, today time.Time) (err error) {
	defer wrap(&err, "Trays.Stray")
	var code *string
	var once []byte // what has no code is known by the sending of the page
	if in.Code != "" {
		c := string(in.Code)
		code = &c
	} else {
		hash := form.Hash()
		once = hash[:]
	}
	_, err = s.db.Exec(ctx, `
		INSERT INTO priv.stray (day, code, kind, form)
		SELECT $1, $2::text, CASE WHEN $3::text = 'unknown' AND EXISTS (SELECT FROM priv.bag WHERE code = $2 AND state = 'void') THEN 'void' ELSE $3 END, $4
		ON CONFLICT DO NOTHING`, today, code, string(in.Kind), once)
	return err
}

// Strays lists stray soil that waits for a person, oldest first.
func (s *Trays) Strays(ctx context.Context) (_ []desk.Stray, err error) {
	defer wrap(&err, "Trays.Strays")
	rows, err := s.db.Query(ctx, `
		SELECT id, day, coalesce(code, ''), kind
		  FROM priv.stray
		 WHERE settled IS NULL
		 ORDER BY day, code, id`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Stray, error) {
		var out desk.Stray
		return out, row.Scan((*[16]byte)(&out.ID), &out.Day, (*string)(&out.Code), (*string)(&out.Kind))
	})
}

// SettleStray says what became of stray soil. fault.ErrNotFound: it is settled.
func (s *Trays) SettleStray(ctx context.Context, id desk.ID, fate desk.Fate, today time.Time) (err error) {
	defer wrap(&err, "Trays.SettleStray")
	return settleStray(ctx, s.db, id, string(fate), today)
}

func settleStray(ctx context.Context, db DB, id desk.ID, fate string, today time.Time) error {
	tag, err := db.Exec(ctx, `
		UPDATE priv.stray SET settled = $2, fate = $3 WHERE id = $1 AND settled IS NULL`, [16]byte(id), today, fate)
	if err == nil && tag.RowsAffected() == 0 {
		err = fault.ErrNotFound
	}
	return err
}

// RetypeStray says which bag stray soil is, and logs it in. fault.ErrNotFound:
// it is settled, or there is no such bag. fault.ErrConflict: that bag's soil has
// come.
func (s *Trays) RetypeStray(ctx context.Context, id desk.ID, code bag.Code, c tray.Condition, today time.Time) (seat tray.Seat, err error) {
	defer wrap(&err, "Trays.RetypeStray")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		if err := settleStray(ctx, tx, id, "retyped", today); err != nil {
			return err
		}
		seat, err = NewTrays(tx).Arrive(ctx, code, c, today)
		return err
	})
	return seat, err
}

// CountMail notes how many bags the mail of a day brought, counted by hand.
func (s *Trays) CountMail(ctx context.Context, day time.Time, bags int) (err error) {
	defer wrap(&err, "Trays.CountMail")
	_, err = s.db.Exec(ctx, `
		INSERT INTO priv.mail (day, bags) VALUES ($1, $2)
		ON CONFLICT (day) DO UPDATE SET bags = excluded.bags`, day, bags)
	return err
}

// Arrivals accounts for the bags that came in a span of days: those the mail
// brought by hand count against what was done with each. Of days without a hand
// count the bags scanned are taken.
func (s *Trays) Arrivals(ctx context.Context, from, to time.Time) (_ tray.Ledger, err error) {
	defer wrap(&err, "Trays.Arrivals")
	rows, err := s.db.Query(ctx, `
		WITH where_now AS (
		    SELECT b.received AS day,
		           CASE WHEN b.condition IN ('torn', 'not_soil', 'unmarked', 'out_state') OR b.state = 'void' THEN 'uncounted'
		                WHEN m.source = 'assumed' THEN 'by_lot' ELSE 'in_tray' END AS at
		      FROM priv.bag b
		      LEFT JOIN priv.bag_link l ON l.bag = b.code
		      LEFT JOIN priv.sample m ON m.id = l.sample
		     WHERE b.received BETWEEN $1 AND $2
		    UNION ALL
		    SELECT day, CASE WHEN fate IS NULL THEN 'in_queue' ELSE fate END
		      FROM priv.stray
		     WHERE day BETWEEN $1 AND $2 AND fate IS DISTINCT FROM 'retyped'
		)
		SELECT at, count(*) FROM where_now GROUP BY 1
		UNION ALL
		SELECT 'total', coalesce(sum(coalesce(m.bags, d.n)), 0)
		  FROM (SELECT day, count(*) AS n FROM where_now GROUP BY 1) d
		  FULL JOIN (SELECT * FROM priv.mail WHERE day BETWEEN $1 AND $2) m ON m.day = d.day`, from, to)
	if err != nil {
		return tray.Ledger{}, err
	}
	parts := map[string]int{}
	var at string
	var n int
	if _, err = pgx.ForEachRow(rows, []any{&at, &n}, func() error { parts[at] = n; return nil }); err != nil {
		return tray.Ledger{}, err
	}
	total := parts["total"]
	delete(parts, "total")
	return tray.Arrivals(total, parts), nil
}

// LotLedgers accounts for every lot of a fall: the bags it had when it was
// issued against the states of its bags.
func (s *Trays) LotLedgers(ctx context.Context, season int) (_ []desk.LotLedger, err error) {
	defer wrap(&err, "Trays.LotLedgers")
	rows, err := s.db.Query(ctx, `
		SELECT l.id, l.county, coalesce(l.bags, 0), b.state, count(*)
		  FROM priv.lot l
		  JOIN priv.bundle u ON u.lot = l.id
		  JOIN priv.bag_state b ON b.bundle = u.id
		 WHERE l.season = $1
		 GROUP BY l.id, b.state
		 ORDER BY l.issued DESC, l.county, l.id`, season)
	if err != nil {
		return nil, err
	}
	type lot struct {
		desk.LotLedger
		issued int
		states map[bag.State]int
	}
	var lots []*lot
	var id [16]byte
	var county int32
	var issued, n int
	var state string
	_, err = pgx.ForEachRow(rows, []any{&id, &county, &issued, &state, &n}, func() error {
		if len(lots) == 0 || lots[len(lots)-1].Lot != desk.ID(id) {
			lots = append(lots, &lot{LotLedger: desk.LotLedger{Lot: id, Season: season}, issued: issued, states: map[bag.State]int{}})
			lots[len(lots)-1].County = place.ID(county)
		}
		lots[len(lots)-1].states[bag.State(state)] = n
		return nil
	})
	var out []desk.LotLedger
	for _, l := range lots {
		l.Ledger = tray.Lot(l.issued, l.states)
		out = append(out, l.LotLedger)
	}
	return out, err
}

// idleOrders are all that a list of waiting bags can be sorted by.
var idleOrders = map[desk.IdleOrder]string{
	desk.IdleLongest: `l.sample IS NOT NULL, b.received, t.tray, t.cup, b.code`,
	desk.IdleByCode:  `b.code`,
	desk.IdleBySeat:  `t.tray, t.cup, b.code`,
}

// Idle lists the bags of a fall whose soil waits to be counted, the first so many
// in an order.
func (s *Trays) Idle(ctx context.Context, season, most int, by desk.IdleOrder) (_ []desk.Idle, err error) {
	defer wrap(&err, "Trays.Idle")
	order, known := idleOrders[by]
	if !known {
		order = idleOrders[desk.IdleLongest]
	}
	rows, err := s.db.Query(ctx, `
		SELECT b.code, b.received, coalesce(t.tray, 0), coalesce(t.cup, 0), coalesce(b.condition, ''), l.sample IS NOT NULL
		  FROM priv.lot o
		  JOIN priv.bundle u ON u.lot = o.id
		  JOIN priv.bag b ON b.bundle = u.id
		  LEFT JOIN priv.bag_link l ON l.bag = b.code
		  LEFT JOIN priv.seat t ON t.bag = b.code
		 WHERE o.season = $1 AND b.state = 'soil_in'
		 ORDER BY `+order+`
		 LIMIT $2`, season, most)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (desk.Idle, error) {
		var i desk.Idle
		return i, row.Scan((*string)(&i.Code), &i.Received, &i.Seat.Tray, &i.Seat.Cup, (*string)(&i.Condition), &i.HasForm)
	})
}
