package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/money"
)

// Money keeps prices, budgets and the fiscal year, and works out what bags cost,
// over a Staff connection.
type Money struct{ db DB }

// NewMoney makes the store.
func NewMoney(db DB) *Money { return &Money{db} }

// Calendar tells when the fiscal year begins.
func (s *Money) Calendar(ctx context.Context) (c money.Calendar, err error) {
	defer wrap(&err, "Money.Calendar")
	err = s.db.QueryRow(ctx, `SELECT month FROM priv.fiscal`).Scan((*int)(&c.First))
	return c, err
}

// SetCalendar says when the fiscal year begins.
func (s *Money) SetCalendar(ctx context.Context, c money.Calendar) (err error) {
	defer wrap(&err, "Money.SetCalendar")
	_, err = s.db.Exec(ctx, `UPDATE priv.fiscal SET month = $1`, int(c.First))
	return err
}

// Prices lists all prices, the newest first.
func (s *Money) Prices(ctx context.Context) (_ []money.Prices, err error) {
	defer wrap(&err, "Money.Prices")
	rows, err := s.db.Query(ctx, `SELECT from_day, bag, postage, fee FROM priv.price ORDER BY from_day DESC`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[money.Prices])
}

// SetPrices sets what bags cost from a day on; those of the same day are replaced.
func (s *Money) SetPrices(ctx context.Context, p money.Prices) (err error) {
	defer wrap(&err, "Money.SetPrices")
	_, err = s.db.Exec(ctx, `
		INSERT INTO priv.price (from_day, bag, postage, fee) VALUES ($1, $2, $3, $4)
		ON CONFLICT (from_day) DO UPDATE SET bag = excluded.bag, postage = excluded.postage, fee = excluded.fee`,
		p.From, int64(p.Bag), int64(p.Postage), int64(p.Fee))
	return err
}

// Budgets lists every year's.
func (s *Money) Budgets(ctx context.Context) (_ []money.Budget, err error) {
	defer wrap(&err, "Money.Budgets")
	rows, err := s.db.Query(ctx, `SELECT year, sponsor, amount FROM priv.budget ORDER BY year DESC, amount DESC, sponsor`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (b money.Budget, err error) {
		err = row.Scan((*int)(&b.Year), &b.Sponsor, (*int64)(&b.Amount))
		return b, err
	})
}

// SetBudget sets what a sponsor gives for a year. Nothing takes the line away:
// fault.ErrNotFound where there is none.
func (s *Money) SetBudget(ctx context.Context, b money.Budget) (err error) {
	defer wrap(&err, "Money.SetBudget")
	if b.Amount == 0 {
		tag, err := s.db.Exec(ctx, `DELETE FROM priv.budget WHERE year = $1 AND sponsor = $2`, int(b.Year), b.Sponsor)
		if err == nil && tag.RowsAffected() == 0 {
			return fault.ErrNotFound
		}
		return err
	}
	_, err = s.db.Exec(ctx, `
		INSERT INTO priv.budget (year, sponsor, amount) VALUES ($1, $2, $3)
		ON CONFLICT (year, sponsor) DO UPDATE SET amount = excluded.amount`, int(b.Year), b.Sponsor, int64(b.Amount))
	return err
}

// Year is a fiscal year as it stands on a day: its budgets, what was spent, and
// what the season that is open in it will come to. An outlook is worked out only
// for the year that the day is in.
func (s *Money) Year(ctx context.Context, y money.Year, today time.Time) (_ desk.Money, err error) {
	defer wrap(&err, "Money.Year")
	calendar, err := s.Calendar(ctx)
	if err != nil {
		return desk.Money{}, err
	}
	out := desk.Money{Year: y, Day: today}
	out.First, out.Last = calendar.Days(y)
	budgets, err := s.Budgets(ctx)
	if err != nil {
		return desk.Money{}, err
	}
	var sum money.Cents
	out.Budgets, sum = money.Of(budgets, y)
	prices, err := s.Prices(ctx)
	if err != nil {
		return desk.Money{}, err
	}
	out.Prices, out.Priced = money.At(prices, today)
	tallies, err := s.tallies(ctx, out.First, out.Last)
	if err != nil {
		return desk.Money{}, err
	}
	out.Spent = money.Spent(tallies, prices, out.First, out.Last)
	if calendar.Year(today) != y {
		out.Rate = money.ReturnRate(money.Season{})
		out.Outlook = money.Forecast(sum, out.Spent.Sum(), money.Season{}, out.Rate, out.Prices)
		return out, nil
	}
	if out.Season, out.Bags, err = s.season(ctx, today); err != nil {
		return desk.Money{}, err
	}
	out.Rate = money.ReturnRate(out.Bags)
	out.Outlook = money.Forecast(sum, out.Spent.Sum(), out.Bags, out.Rate, out.Prices)
	return out, nil
}

// tallies counts the steps of bags by day. When a season is unlinked its bags
// forget on which day they arrived; each of its counts then stands for an arrival
// on its own day. Results that were brought in from earlier years cost nothing.
func (s *Money) tallies(ctx context.Context, first, last time.Time) ([]money.Tally, error) {
	rows, err := s.db.Query(ctx, `
		SELECT day, sum(issued)::int, sum(arrived)::int, sum(counted)::int
		  FROM (SELECT l.issued AS day, count(*) AS issued, 0 AS arrived, 0 AS counted
		          FROM priv.lot l
		          JOIN priv.bundle u ON u.lot = l.id
		          JOIN priv.bag b ON b.bundle = u.id
		         WHERE l.issued BETWEEN $1 AND $2
		         GROUP BY l.issued
		        UNION ALL
		        SELECT received, 0, count(*), 0
		          FROM priv.bag
		         WHERE received BETWEEN $1 AND $2
		         GROUP BY received
		        UNION ALL
		        SELECT r.day, 0, count(*) FILTER (WHERE k.sample IS NULL), count(*)
		          FROM priv.result r
		          JOIN priv.sample s ON s.id = r.sample AND s.source <> 'past'
		          LEFT JOIN priv.bag_link k ON k.sample = s.id
		         WHERE r.supersedes IS NULL AND r.day BETWEEN $1 AND $2
		         GROUP BY r.day) t
		 GROUP BY day
		 ORDER BY day`, first, last)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[money.Tally])
}

// season is the season that opened last, with how much of a season's soil had
// come by the same day of the earlier ones whose arrivals are still known.
func (s *Money) season(ctx context.Context, today time.Time) (year int, out money.Season, err error) {
	var opens, closes time.Time
	err = s.db.QueryRow(ctx, `
		SELECT year, opens, closes FROM open.season WHERE opens <= $1 ORDER BY year DESC LIMIT 1`, today).Scan(&year, &opens, &closes)
	if err == pgx.ErrNoRows {
		return 0, out, nil
	}
	if err != nil {
		return 0, out, err
	}
	err = s.db.QueryRow(ctx, `
		SELECT count(*), count(DISTINCT b.bundle), count(*) FILTER (WHERE b.received <= $2),
		       count(*) FILTER (WHERE b.received <= $2 AND (b.state IN ('counted', 'signed', 'released', 'void')
		                          OR coalesce(b.condition IN ('torn', 'not_soil', 'unmarked', 'out_state'), false))),
		       count(*) FILTER (WHERE b.received IS NULL AND b.state = 'form_in')
		  FROM priv.lot l
		  JOIN priv.bundle u ON u.lot = l.id
		  JOIN priv.bag b ON b.bundle = u.id
		 WHERE l.season = $1 AND l.issued <= $2`, year, today).
		Scan(&out.Issued, &out.Bundles, &out.Arrived, &out.Counted, &out.Mailed)
	if err != nil {
		return 0, out, err
	}
	out.Share = 1
	if today.After(closes) {
		return year, out, nil
	}
	var by, all int
	err = s.db.QueryRow(ctx, `
		SELECT count(*) FILTER (WHERE b.received <= n.opens + ($2::date - $3::date)), count(*)
		  FROM open.season n
		  JOIN priv.lot l ON l.season = n.year
		  JOIN priv.bundle u ON u.lot = l.id
		  JOIN priv.bag b ON b.bundle = u.id
		 WHERE n.year < $1 AND n.closes < $2 AND b.received IS NOT NULL`, year, today, opens).Scan(&by, &all)
	out.Share = float64(by) / float64(max(all, 1))
	return year, out, err
}
