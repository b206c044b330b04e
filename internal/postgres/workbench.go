package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"iter"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// workbench is all that the making of one edition reads, and its plan.
type workbench struct {
	number     int
	cutoff     time.Time
	cut        edition.Cut
	rules      edition.Rules
	parameters int
	set        int
	boundaries [32]byte
	schemeID   int
	scheme     assay.Scheme
	ground     edition.Ground
	ledger     *ledger
	released   []edition.Tranche // of all editions so far, recalled ones included
	backs      []edition.Back    // recalled ones, with what they hold now
	history    edition.History
	previous   [32]byte
	pending    []edition.Pending
	waiting    map[edition.SampleID]counted // recalled ones too
	plan       edition.Plan
}

// counted is what is known of a sample beside what the gathering sees.
type counted struct {
	rank   int
	result [16]byte
}

func readWorkbench(ctx context.Context, tx pgx.Tx, cutoff, day time.Time) (*workbench, error) {
	w := &workbench{cutoff: cutoff, waiting: map[edition.SampleID]counted{}}
	w.cut.Day = day
	if err := forMany(ctx, tx); err != nil {
		return nil, err
	}
	for _, read := range []func(context.Context, pgx.Tx) error{w.readProgram, w.readGround, w.readHistory, w.readPending, w.readBacks} {
		if err := read(ctx, tx); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// forMany readies a transaction that sorts and joins everything that waits: with
// more memory than for a page, and never row by row, for which the planner takes
// rows just stored to be few.
func forMany(ctx context.Context, tx pgx.Tx) error {
	_, err := tx.Exec(ctx, `SELECT set_config('work_mem', '64MB', true), set_config('enable_nestloop', 'off', true)`)
	return err
}

// readProgram reads rules, boundaries, levels, and the fall that the edition is of.
func (w *workbench) readProgram(ctx context.Context, tx pgx.Tx) error {
	var digest []byte
	err := tx.QueryRow(ctx, `
		SELECT s.id, s.k, s.patience, s.dominance, s.gap_days, s.fall_floor, s.full_from,
		       b.id, b.digest, open.scheme_in_force(),
		       (SELECT max(year) FROM open.season WHERE opens <= $1)
		  FROM open.program p
		  JOIN open.parameter_set s ON s.id = p.parameters
		  JOIN open.boundary_set b ON b.id = (SELECT max(id) FROM open.boundary_set)`, w.cutoff).
		Scan(&w.parameters, &w.rules.K, &w.rules.Patience, &w.rules.DominancePercent, &w.rules.GapDays,
			&w.rules.FallFloor, &w.rules.FullClassesFrom, &w.set, &digest, &w.schemeID, &w.cut.Season)
	if err != nil {
		return fmt.Errorf("the program has no settings, boundaries or season yet: %w", err)
	}
	w.boundaries = [32]byte(digest)
	w.scheme, err = readScheme(ctx, tx, w.schemeID)
	return err
}

func (w *workbench) readGround(ctx context.Context, tx pgx.Tx) error {
	rows, err := tx.Query(ctx, `
		SELECT p.id, coalesce(p.county, 0), coalesce(d.district, 0)
		  FROM open.place_shape s
		  JOIN open.place p ON p.id = s.place AND p.kind IN ('county', 'township')
		  LEFT JOIN open.district d ON d.set = s.set AND d.township = p.id
		 WHERE s.set = $1`, w.set)
	if err != nil {
		return err
	}
	var counties []place.ID
	var townships []edition.Township
	var t edition.Township
	_, err = pgx.ForEachRow(rows, []any{(*int32)(&t.ID), (*int32)(&t.County), (*int32)(&t.District)}, func() error {
		if t.County == 0 {
			counties = append(counties, t.ID)
		} else {
			townships = append(townships, t)
		}
		return nil
	})
	if err != nil {
		return err
	}
	w.ground, err = edition.NewGround(counties, townships)
	return err
}

func (w *workbench) readHistory(ctx context.Context, tx pgx.Tx) error {
	var last *time.Time
	var season *int
	var digest []byte
	err := tx.QueryRow(ctx, `
		SELECT coalesce(max(no), 0) + 1,
		       max(released) FILTER (WHERE kind = 'release'), max(season) FILTER (WHERE kind = 'release'),
		       (SELECT digest FROM open.edition ORDER BY no DESC LIMIT 1)
		  FROM open.edition`).Scan(&w.number, &last, &season, &digest)
	if err != nil {
		return err
	}
	if digest != nil {
		w.previous = [32]byte(digest)
	}
	if w.ledger, err = readLedger(ctx, tx); err != nil {
		return err
	}
	w.released = w.ledger.tranches()
	var h edition.History
	if last != nil {
		h = edition.HistoryOf(w.released, *last, *season)
	} else {
		h = edition.HistoryOf(w.released, time.Time{}, 0)
	}
	w.history = h
	return nil
}

// readPending reads every sample whose soil came by the cut-off and that is in
// no tranche, in one statement, so that all of it is of one moment.
func (w *workbench) readPending(ctx context.Context, tx pgx.Tx) error {
	rows, err := tx.Query(ctx, `
		SELECT `+arrivalColumns+`
		  FROM priv.arrival
		 WHERE received <= $1 AND season <= $2 AND tranche IS NULL`, w.cutoff, w.cut.Season)
	if err != nil {
		return err
	}
	var r arrivalRow
	_, err = pgx.ForEachRow(rows, r.targets(), func() error {
		if r.Counted {
			w.waiting[r.Sample] = counted{rank: w.scheme.Class(r.reading()).Rank, result: r.result}
		}
		w.pending = append(w.pending, r.pending())
		return nil
	})
	return err
}

// preview gathers and describes.
func (w *workbench) preview() (desk.Preview, error) {
	p := desk.Preview{
		Number: w.number, Levels: w.scheme.Title, Season: w.cut.Season, Cutoff: w.cutoff, Day: w.cut.Day, NextDay: w.rules.NextDay(w.history.Last),
	}
	// A preview may be looked at before the day; the release itself is checked again.
	cut := w.cut
	if cut.Day.Before(p.NextDay) {
		cut.Day = p.NextDay
	}
	var err error
	if w.plan, err = edition.Gather(w.rules, w.ground, w.history, cut, w.pending); err != nil {
		return p, err
	}
	w.plan = w.plan.Rejoin(w.rules, w.pending, w.backs)
	p.Drafts, p.Waiting = w.plan.Tranches, w.plan.Waiting
	shown := edition.TownshipsShown(w.released)
	stamp := sha256.New()
	fmt.Fprintln(stamp, w.schemeID)
	for _, d := range p.Drafts {
		fmt.Fprintln(stamp, d.County, d.Kind, d.Places, d.Window, len(d.Members))
		for _, j := range d.Joins {
			fmt.Fprintln(stamp, j.Ref, len(j.Members))
		}
		for m := range everyone(d) {
			result := w.waiting[m].result
			stamp.Write(m[:])
			stamp.Write(result[:])
		}
		if d.Kind != edition.KindTownship {
			continue
		}
		if slices.Contains(shown, d.Places[0]) {
			p.Changed = append(p.Changed, d.Places[0])
		} else {
			p.FirstShown = append(p.FirstShown, d.Places[0])
		}
	}
	p.Stamp = hex.EncodeToString(stamp.Sum(nil)[:16])
	return p, nil
}

// fallFigures takes everything counted of the edition's fall: what waits, what
// this edition releases, and what earlier ones have.
func (w *workbench) fallFigures(ctx context.Context, tx pgx.Tx, ranks edition.Ranks, tranches []edition.Tranche) ([]edition.FallFigure, error) {
	going := map[edition.SampleID]bool{}
	for _, d := range w.plan.Tranches {
		for _, m := range d.Members {
			going[m] = true
		}
	}
	var samples []edition.FallSample
	add := func(p edition.Pending, rank int, waiting bool) {
		samples = append(samples, edition.FallSample{
			County: p.County, Season: p.Season, Sender: p.Sender, Standing: p.Standing,
			Rank: rank, Found: ranks[rank] == edition.ClassFound, Waiting: waiting,
		})
	}
	for _, p := range w.pending {
		if p.Counted && p.Season == w.cut.Season {
			add(p, w.waiting[p.Sample].rank, !going[p.Sample])
		}
	}
	// What comes out again with this edition counts as it stands; what is out
	// already as it was published: a correction since shows nowhere.
	back := map[edition.Ref]bool{}
	for _, t := range tranches {
		for _, j := range t.Joins {
			back[j] = true
		}
	}
	for _, b := range w.backs {
		for _, m := range b.Members {
			if back[b.Ref] && !m.Gone && m.Season == w.cut.Season {
				add(m.Pending, w.waiting[m.Sample].rank, false)
			}
		}
	}
	rows, err := tx.Query(ctx, `
		SELECT l.tranche, `+memberColumns+`
		  FROM priv.last_pins($1) l
		  JOIN priv.sample s ON s.id = l.sample AND s.season = $1
		  LEFT JOIN priv.sender x ON x.id = s.sender
		  JOIN priv.result r ON r.id = l.result`, w.cut.Season)
	if err != nil {
		return nil, err
	}
	var key int
	var r arrivalRow
	_, err = pgx.ForEachRow(rows, append([]any{&key}, r.targets()...), func() error {
		if !back[refOf(key)] {
			add(r.pending(), w.scheme.Class(r.reading()).Rank, false)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	shown, recalled := edition.Shown(w.ledger.entries, w.number, w.schemeID, w.ledger.ranks)
	recalled = slices.DeleteFunc(recalled, func(t edition.Tranche) bool { return back[t.Ref()] })
	return edition.FallFigures(w.rules, ranks, samples, append(shown, tranches...), recalled...), nil
}

// everyone are all samples that a draft counts, those that come out again after
// its own.
func everyone(d edition.Draft) iter.Seq[edition.SampleID] {
	return func(yield func(edition.SampleID) bool) {
		for _, m := range d.Members {
			if !yield(m) {
				return
			}
		}
		for _, j := range d.Joins {
			for _, m := range j.Members {
				if !yield(m) {
					return
				}
			}
		}
	}
}
