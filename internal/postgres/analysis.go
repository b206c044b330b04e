package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/describe"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// Analysis reads the office's own results, released or not, over a Staff
// connection. Nothing of it is for release.
type Analysis struct{ db DB }

// NewAnalysis makes the store.
func NewAnalysis(db DB) *Analysis { return &Analysis{db} }

// Results lists what is signed and stands, with what senders said; of one county,
// or of all for 0.
func (s *Analysis) Results(ctx context.Context, county place.ID) (_ []describe.Result, err error) {
	defer wrap(&err, "Analysis.Results")
	rows, err := s.db.Query(ctx, `
		SELECT s.county, s.season, r.kind, coalesce(r.eggs, 0), r.density, r.cyst, r.juveniles, coalesce(r.method, 0),
		       coalesce(s.answers->>'crop_before', ''), coalesce(s.answers->>'resistance', ''),
		       coalesce(s.answers->>'texture', ''), coalesce(s.answers->>'ph', '')
		  FROM priv.sample s
		  JOIN priv.signed r ON r.sample = s.id
		  LEFT JOIN priv.bag_link l ON l.sample = s.id
		  LEFT JOIN priv.bag b ON b.code = l.bag
		 WHERE ($1 = 0 OR s.county = $1) AND b.state IS DISTINCT FROM 'void'`, int32(county))
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (r describe.Result, err error) {
		var kind string
		err = row.Scan((*int32)(&r.County), &r.Season, &kind, &r.Reading.Eggs, (*float64)(&r.Reading.Density), &r.Reading.CystSeen, &r.Reading.JuvenilesSeen,
			&r.Method, &r.Before, &r.Source, &r.Texture, &r.PH)
		r.Reading.Basis = assay.Reported
		if kind == "counted" {
			r.Reading.Basis = assay.Counted
		}
		r.Level = kind == "class"
		return r, err
	})
}

// Coverage lists every township and every county for what is known by county only,
// by county's name and code, with what waits as a release of today would leave it.
func (s *Analysis) Coverage(ctx context.Context, today time.Time) (out []describe.Cover, err error) {
	defer wrap(&err, "Analysis.Coverage")
	err = pgx.BeginTxFunc(ctx, beginner{s.db}, pgx.TxOptions{AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		if out, err = readCovers(ctx, tx); err != nil {
			return err
		}
		w, err := readWorkbench(ctx, tx, today, today)
		if err != nil {
			return err
		}
		p, err := w.preview()
		if err != nil {
			return err
		}
		lacks := map[place.ID]edition.Lack{}
		for _, l := range p.Waiting {
			lacks[l.Place] = l
		}
		going := map[edition.SampleID]bool{}
		for _, d := range p.Drafts {
			for _, m := range d.Members {
				going[m] = true
			}
		}
		ready := map[place.ID]int{} // would go out today
		for _, r := range w.pending {
			if going[r.Sample] {
				ready[r.Place]++
			}
		}
		for i := range out {
			c := &out[i]
			l := lacks[c.Place]
			c.Waiting, c.Senders, c.Lacks = l.Waiting+ready[c.Place], l.Senders, l.Reasons
		}
		return nil
	})
	return out, err
}

func readCovers(ctx context.Context, db DB) ([]describe.Cover, error) {
	rows, err := db.Query(ctx, `
		SELECT p.id, coalesce(p.county, p.id), coalesce(n.results, 0), coalesce(n.last, 0)
		  FROM open.place_shape h
		  JOIN open.place p ON p.id = h.place AND p.kind IN ('county', 'township')
		  LEFT JOIN open.place c ON c.id = p.county
		  LEFT JOIN (SELECT s.place, count(*) AS results, max(s.season) AS last
		               FROM priv.sample s JOIN priv.signed r ON r.sample = s.id GROUP BY 1) n ON n.place = p.id
		 WHERE h.set = (SELECT max(id) FROM open.boundary_set)
		 ORDER BY coalesce(c.name, p.name), coalesce(p.county, p.id), p.kind, p.code`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (c describe.Cover, err error) {
		err = row.Scan((*int32)(&c.Place), (*int32)(&c.County), &c.Results, &c.Last)
		return c, err
	})
}
