package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
)

// Published reads editions for the public pages, over the Public connection:
// it cannot read a sample.
type Published struct{ db DB }

// NewPublished makes the store.
func NewPublished(db DB) *Published { return &Published{db} }

// Latest is the number of the newest edition that stands; 0 before the first.
func (s *Published) Latest(ctx context.Context) (no int, err error) {
	v, err := s.Version(ctx)
	return v.Number, err
}

// Version tells what the pages are to be made from now: asked for with every
// page, so it is one short statement.
func (s *Published) Version(ctx context.Context) (v gazette.Version, err error) {
	defer wrap(&err, "Published.Version")
	err = s.db.QueryRow(ctx, `
		SELECT coalesce((SELECT max(no) FROM open.edition e
		                  WHERE NOT EXISTS (SELECT 1 FROM open.withdrawal w WHERE w.edition = e.no)), 0),
		       (SELECT count(*) FROM open.withdrawal), (SELECT count(*) FROM open.recall),
		       (SELECT coalesce(md5(string_agg(o::text, '|' ORDER BY o.county)), '') FROM open.office o)`).
		Scan(&v.Number, &v.Withdrawn, &v.Recalled, &v.Offices)
	return v, err
}

// Issue loads an edition whole. Number 0 gives the places without any figures:
// what the pages show before the first edition. fault.ErrNotFound: no such edition.
func (s *Published) Issue(ctx context.Context, no int) (_ *gazette.Issue, err error) {
	defer wrap(&err, "Published.Issue")
	var out gazette.Issue
	set, scheme, err := s.edition(ctx, no, &out.Edition)
	if err != nil {
		return nil, err
	}
	if out.Scheme, err = readScheme(ctx, s.db, scheme); err != nil {
		return nil, err
	}
	if err = s.places(ctx, set, &out); err != nil {
		return nil, err
	}
	if err = s.layers(ctx, set, &out); err != nil {
		return nil, err
	}
	if out.Methods, err = readMethods(ctx, s.db); err != nil {
		return nil, err
	}
	if out.Editions, err = s.standing(ctx, no); err != nil {
		return nil, err
	}
	if out.CountedBy, err = s.countedBy(ctx, no); err != nil {
		return nil, err
	}
	return &out, s.figures(ctx, scheme, &out)
}

// figures fills in what the ledger says of the edition today.
func (s *Published) figures(ctx context.Context, scheme int, out *gazette.Issue) error {
	l, err := readLedger(ctx, s.db)
	if err != nil {
		return err
	}
	no := out.Edition.Number
	var recalled []edition.Tranche
	out.Tranches, recalled = edition.Shown(l.entries, no, scheme, l.ranks)
	out.Recalled = l.recalledPlaces(no, recalled)
	out.Falls, err = readFalls(ctx, s.db, no)
	return err
}

// standing lists the editions up to no that are not withdrawn, oldest first.
func (s *Published) standing(ctx context.Context, no int) ([]gazette.Edition, error) {
	rows, err := s.db.Query(ctx, `
		SELECT no, code, kind, season, cutoff, released, k
		  FROM open.edition e
		 WHERE no <= $1 AND NOT EXISTS (SELECT 1 FROM open.withdrawal w WHERE w.edition = e.no)
		 ORDER BY no`, no)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (e gazette.Edition, err error) {
		err = row.Scan(&e.Number, &e.Code, (*string)(&e.Kind), &e.Season, &e.Cutoff, &e.Released, &e.K)
		return e, err
	})
}

func (s *Published) edition(ctx context.Context, no int, e *gazette.Edition) (set, scheme int, err error) {
	if no == 0 {
		err = s.db.QueryRow(ctx, `
			SELECT max(b.id), open.scheme_in_force(), min(s.k)
			  FROM open.boundary_set b, open.program p
			  JOIN open.parameter_set s ON s.id = p.parameters
			HAVING count(*) > 0`).Scan(&set, &scheme, &e.K)
		return set, scheme, err
	}
	err = s.db.QueryRow(ctx, `
		SELECT no, code, kind, season, cutoff, released, (SELECT min(k) FROM open.edition WHERE no <= $1), set, scheme
		  FROM open.edition
		 WHERE no = $1`, no).
		Scan(&e.Number, &e.Code, (*string)(&e.Kind), &e.Season, &e.Cutoff, &e.Released, &e.K, &set, &scheme)
	return set, scheme, err
}

func readScheme(ctx context.Context, db DB, id int) (s assay.Scheme, err error) {
	var trace float64
	err = db.QueryRow(ctx, `SELECT key, version, title, source, trace FROM open.scheme WHERE id = $1`, id).
		Scan(&s.Key, &s.Version, &s.Title, &s.Source, &trace)
	if err != nil {
		return s, err
	}
	s.Trace = assay.Density(trace)
	rows, err := db.Query(ctx, `
		SELECT rank, name, upper, kind
		  FROM open.scheme_class
		 WHERE scheme = $1
		 ORDER BY rank`, id)
	if err != nil {
		return s, err
	}
	s.Classes, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (assay.Class, error) {
		var c assay.Class
		var kind string
		err := row.Scan(&c.Rank, &c.Name, (*float64)(&c.Upper), &kind)
		for _, k := range []assay.Kind{assay.None, assay.Unconfirmed, assay.Found} {
			if k.String() == kind {
				c.Kind = k
			}
		}
		return c, err
	})
	return s, err
}

// readFalls lists the fall figures that stand on the map of an edition: those of
// the newest release up to it, without a county of which a group that bags of the
// fall may be in was taken back since. A highest level of another level table is
// not told.
func readFalls(ctx context.Context, db DB, no int) ([]edition.FallFigure, error) {
	rows, err := db.Query(ctx, `
		SELECT f.county, f.season, f.samples, f.finds, CASE WHEN e.scheme = n.scheme THEN coalesce(f.highest, $2) ELSE $2 END
		  FROM open.fall_figure f
		  JOIN open.edition e ON e.no = f.edition
		  JOIN open.edition n ON n.no = $1
		 WHERE f.edition = (SELECT max(x.no) FROM open.edition x
		                     WHERE x.no <= $1 AND x.kind = 'release'
		                       AND (x.no = $1 OR NOT EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = x.no)))
		   AND NOT EXISTS (SELECT FROM open.recall r JOIN open.tranche t ON t.id = r.tranche
		                    WHERE t.county = f.county AND t.through >= f.season AND t.edition <= f.edition AND r.upto >= f.edition)
		 ORDER BY f.county, f.season`, no, edition.NotTold)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (edition.FallFigure, error) {
		var f edition.FallFigure
		err := row.Scan((*int32)(&f.County), &f.Season, &f.Samples, &f.Finds, &f.Highest)
		return f, err
	})
}
