package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/place"
	"sixmile/internal/plan"
)

// Plans keeps plans of the next season's bags, over a Staff connection.
type Plans struct{ db DB }

// NewPlans makes the store.
func NewPlans(db DB) *Plans { return &Plans{db} }

// Save keeps a plan. Its number and whatever was kept before stay as they are.
func (s *Plans) Save(ctx context.Context, p plan.Saved, by account.ID) (no int, err error) {
	defer wrap(&err, "Plans.Save")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		err := tx.QueryRow(ctx, `
			INSERT INTO priv.plan (season, edition, day, bags, least, back, weights, asked, total, best, by_staff)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, nullif($11, '00000000-0000-0000-0000-000000000000'::uuid))
			RETURNING no`,
			p.Season, p.Edition, p.Day, p.Ask.Bags, p.Ask.Least, p.Ask.Return, p.Ask.Weights[:],
			p.Ask.Reach == plan.AsSuggested, p.Total[:], p.Best[:], [16]byte(by)).Scan(&no)
		if err != nil {
			return err
		}
		_, err = tx.CopyFrom(ctx, pgx.Identifier{"priv", "plan_lot"}, []string{"plan", "county", "acres", "bags", "gains"},
			pgx.CopyFromSlice(len(p.Lots), func(i int) ([]any, error) {
				l := p.Lots[i]
				return []any{no, int32(l.County), l.Acres, l.Bags, l.Gains[:]}, nil
			}))
		if err != nil {
			return err
		}
		_, err = tx.CopyFrom(ctx, pgx.Identifier{"priv", "plan_place"}, []string{"plan", "place", "acres", "found", "find", "weight", "bags", "miss", "clean", "level"},
			pgx.CopyFromSlice(len(p.Given), func(i int) ([]any, error) {
				g := p.Given[i]
				return []any{no, int32(g.ID), g.Acres, g.Found, g.Find, g.Weight, p.Places[i].Bags, g.Miss, g.Clean, g.Level}, nil
			}))
		return err
	})
	return no, err
}

// List lists what was saved, newest first, without its counties and places.
func (s *Plans) List(ctx context.Context) (_ []plan.Saved, err error) {
	defer wrap(&err, "Plans.List")
	rows, err := s.db.Query(ctx, planRow+` ORDER BY no DESC`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, scanPlan)
}

const planRow = `
	SELECT no, season, edition, day, bags, least, back, weights, asked, total, best
	  FROM priv.plan`

func scanPlan(row pgx.CollectableRow) (p plan.Saved, err error) {
	var weights, total, best []float64
	var asked bool
	err = row.Scan(&p.No, &p.Season, &p.Edition, &p.Day, &p.Ask.Bags, &p.Ask.Least, &p.Ask.Return, &weights, &asked, &total, &best)
	copy(p.Ask.Weights[:], weights)
	copy(p.Total[:], total)
	copy(p.Best[:], best)
	if asked {
		p.Ask.Reach = plan.AsSuggested
	}
	return p, err
}

// Get is a saved plan whole. fault.ErrNotFound: no such plan.
func (s *Plans) Get(ctx context.Context, no int) (_ plan.Saved, err error) {
	defer wrap(&err, "Plans.Get")
	rows, err := s.db.Query(ctx, planRow+` WHERE no = $1`, no)
	if err != nil {
		return plan.Saved{}, err
	}
	p, err := pgx.CollectExactlyOneRow(rows, scanPlan)
	if err != nil {
		return p, err
	}
	rows, err = s.db.Query(ctx, `SELECT county, acres, bags, gains FROM priv.plan_lot WHERE plan = $1 ORDER BY county`, no)
	if err != nil {
		return p, err
	}
	p.Lots, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (l plan.Lot, err error) {
		var gains []float64
		err = row.Scan((*int32)(&l.County), &l.Acres, &l.Bags, &gains)
		copy(l.Gains[:], gains)
		return l, err
	})
	if err != nil {
		return p, err
	}
	rows, err = s.db.Query(ctx, `
		SELECT g.place, p.county, g.acres, g.found, g.find, g.weight, g.bags, g.miss, g.clean, g.level
		  FROM priv.plan_place g
		  JOIN open.place p ON p.id = g.place
		 WHERE g.plan = $1
		 ORDER BY g.place`, no)
	if err != nil {
		return p, err
	}
	var g plan.Place
	var bags int
	_, err = pgx.ForEachRow(rows, []any{(*int32)(&g.ID), (*int32)(&g.County), &g.Acres, &g.Found, &g.Find, &g.Weight, &bags, &g.Miss, &g.Clean, &g.Level}, func() error {
		p.Given = append(p.Given, g)
		p.Places = append(p.Places, plan.Suggestion{Place: g.ID, Bags: bags})
		return nil
	})
	p.Value = p.Weighed(p.Total)
	return p, err
}

// Issued is how many bags each county got for a season, follow-up bags included.
func (s *Plans) Issued(ctx context.Context, season int) (_ map[place.ID]int, err error) {
	defer wrap(&err, "Plans.Issued")
	rows, err := s.db.Query(ctx, `
		SELECT l.county, count(*)
		  FROM priv.lot l
		  JOIN priv.bundle u ON u.lot = l.id
		  JOIN priv.bag b ON b.bundle = u.id
		 WHERE l.season = $1
		 GROUP BY l.county`, season)
	if err != nil {
		return nil, err
	}
	out := map[place.ID]int{}
	var county place.ID
	var bags int
	_, err = pgx.ForEachRow(rows, []any{(*int32)(&county), &bags}, func() error {
		out[county] = bags
		return nil
	})
	return out, err
}

// Backs is how many bags of a season were issued and how many of them have come
// back as of a day.
func (s *Plans) Backs(ctx context.Context, season int, today time.Time) (issued, back int, err error) {
	defer wrap(&err, "Plans.Backs")
	err = s.db.QueryRow(ctx, `
		SELECT count(*), count(*) FILTER (WHERE b.received <= $2)
		  FROM priv.lot l
		  JOIN priv.bundle u ON u.lot = l.id
		  JOIN priv.bag b ON b.bundle = u.id
		 WHERE l.season = $1`, season, today).Scan(&issued, &back)
	return issued, back, err
}
