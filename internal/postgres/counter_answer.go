package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// readAnswer reads a bag's answer as its sender's link would give it, and the
// county that handed the bag out. A code that two forms claim gets no result
// until it is settled, nor does a bag that was set aside.
func readAnswer(ctx context.Context, tx pgx.Tx, code bag.Code, within account.Reach) (a sample.Answer, county place.ID, err error) {
	var (
		kind                *string
		method, eggs        *int
		density, low, high  *float64
		cyst, juveniles     *bool
		grownIn, handedFrom int32
	)
	err = tx.QueryRow(ctx, `
		SELECT l.county, s.season, s.county, b.received IS NOT NULL,
		       b.state = 'void' OR EXISTS (SELECT FROM priv.queue_item q WHERE q.code = b.code AND q.settled IS NULL),
		       h.kind, h.method, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles
		  FROM priv.bag b
		  JOIN priv.bundle u ON u.id = b.bundle
		  JOIN priv.lot l ON l.id = u.lot
		  JOIN priv.bag_link k ON k.bag = b.code
		  JOIN priv.sample s ON s.id = k.sample
		  LEFT JOIN priv.signed h ON h.sample = s.id
		 WHERE b.code = $1 AND ($2 OR l.county = ANY ($3))`, string(code), within.All, ids(within.Counties)).
		Scan(&handedFrom, &a.Season, &grownIn, &a.Received, &a.Held, &kind, &method, &eggs, &density, &low, &high, &cyst, &juveniles)
	if err != nil {
		return sample.Answer{}, 0, err
	}
	a.County = place.ID(grownIn)
	if kind == nil || a.Held {
		return a, place.ID(handedFrom), nil
	}
	a.Result = &sample.Result{Kind: *kind, Density: *density, Method: *method, Cyst: *cyst, Juveniles: *juveniles}
	if eggs != nil {
		a.Result.Eggs = *eggs
	}
	if low != nil && high != nil {
		a.Result.Low, a.Result.High, a.Result.Limits = *low, *high, true
	}
	return a, place.ID(handedFrom), nil
}
