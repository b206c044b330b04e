package office

import (
	"context"
	"errors"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/past"
	"sixmile/internal/place"
	"sixmile/internal/tabular"
)

// PastGround is what a file of past results is judged by.
type PastGround interface {
	Setup(ctx context.Context, today time.Time) (past.Setup, error)
	Gazetteer(ctx context.Context) (*past.Gazetteer, error)
	Known(ctx context.Context, srid int) (bool, error) // whether there is such a coordinate system
	Locate(ctx context.Context, srid int, points []past.Point) ([]place.ID, error)
}

// PastLoads takes files of past results in.
type PastLoads interface {
	Memory(ctx context.Context) (tabular.Memory, error)
	Remember(ctx context.Context, m tabular.Memory) error
	Taken(ctx context.Context, digest string) (time.Time, error) // zero: no file that says the same was taken
	Accept(ctx context.Context, digest string, kept []past.Kept, by account.ID, today time.Time) (int, error)
}

// pastFile is a file of past results that was sent and is not taken yet. It goes
// when it is taken, given up, pushed out by a newer one, or has lain for an hour:
// it holds what nothing else may.
type pastFile = held[pastState]

type pastState struct {
	progress
	Name    string
	Rows    int
	Verdict past.Verdict
	Taken   time.Time
	Took    int
	sheet   *tabular.Sheet
	mapping tabular.Mapping
	srid    int
	unit    assay.Unit
}

const (
	mostPastFiles = 2
	pastPatience  = time.Hour
)

// judgePast gives every row its verdict.
func (o *office) judgePast(ctx context.Context, f *pastFile) error {
	now := f.look()
	with, err := o.PastGround.Setup(ctx, o.Today())
	if err != nil {
		return err
	}
	with.SRID, with.Unit = now.srid, now.unit
	g, err := o.PastGround.Gazetteer(ctx)
	if err != nil {
		return err
	}
	v, err := past.Judge(ctx, now.sheet, now.mapping, with, g, o.PastGround, func(rows int) {
		f.set(func(s *pastState) { s.Done = rows })
	})
	if err != nil {
		return err
	}
	var taken time.Time
	if v.Ready() {
		if taken, err = o.PastLoads.Taken(ctx, v.Digest); err != nil {
			return err
		}
	}
	f.set(func(s *pastState) { s.Verdict, s.Taken = v, taken })
	return nil
}

// takePast stores what the file came to; then nothing of it is held any more.
func (o *office) takePast(ctx context.Context, f *pastFile) error {
	v := f.look().Verdict
	n, err := o.PastLoads.Accept(ctx, v.Digest, v.Kept, f.owner, o.Today())
	if err != nil {
		return err
	}
	f.set(func(s *pastState) { s.Took, s.Verdict.Kept, s.sheet = n, nil, nil })
	o.Log.Info("past results loaded", "n", n)
	return nil
}

// readyToTake tells whether the file can be loaded as it is.
func (s pastState) readyToTake() bool {
	return s.Stage == stageRead && s.Verdict.Ready() && s.Taken.IsZero()
}

// errNoNumber: what was typed is no coordinate system's number.
var errNoNumber = errors.New("office: no number of a coordinate system")
