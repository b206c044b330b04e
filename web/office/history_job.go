package office

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/past"
	"sixmile/internal/place"
	"sixmile/internal/sample"
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

// pastFile is a file of past results that was sent and is not taken yet. It is
// held in memory, and goes when it is taken, given up, pushed out by a newer one,
// or has lain for an hour: it holds what nothing else may.
type pastFile struct {
	mu    sync.Mutex
	owner account.ID
	token sample.Token
	timer *time.Timer
	pastState
}

// pastState is what may be looked at while the file is worked on.
type pastState struct {
	Name    string
	Rows    int
	sheet   *tabular.Sheet
	mapping tabular.Mapping
	srid    int
	unit    assay.Unit
	Stage   stage
	Done    int
	Verdict past.Verdict
	Taken   time.Time
	Took    int
	Failed  error
}

func (f *pastFile) look() pastState {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.pastState
}

func (f *pastFile) set(change func(*pastState)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(&f.pastState)
}

// begin moves a file on to a stage, unless it is worked on.
func (f *pastFile) begin(to stage) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.Stage == stageReading || f.Stage == stageStoring {
		return errBusy
	}
	f.Stage, f.Done, f.Failed = to, 0, nil
	return nil
}

// pastFiles is the files of all people, one each and two in all.
type pastFiles struct {
	mu   sync.Mutex
	list []*pastFile
}

const (
	mostPastFiles = 2
	pastPatience  = time.Hour
)

func (s *pastFiles) add(f *pastFile) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.list = slices.DeleteFunc(s.list, func(o *pastFile) bool { return o.owner == f.owner })
	s.list = append(s.list, f)
	if over := len(s.list) - mostPastFiles; over > 0 {
		s.list = slices.Delete(s.list, 0, over)
	}
	f.timer = time.AfterFunc(pastPatience, func() { s.drop(f) })
}

// find gives a person's own file. fault.ErrNotFound: it is gone, or another's.
func (s *pastFiles) find(token string, owner account.ID) (*pastFile, error) {
	t, err := sample.ParseToken(token)
	if err != nil {
		return nil, fault.ErrNotFound
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, f := range s.list {
		if f.token == t && f.owner == owner {
			return f, nil
		}
	}
	return nil, fault.ErrNotFound
}

func (s *pastFiles) drop(f *pastFile) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f.timer.Stop()
	s.list = slices.DeleteFunc(s.list, func(o *pastFile) bool { return o == f })
}

// workPast runs a step of a file in its turn, apart from the request that asked
// for it, and notes how it ended.
func (o *office) workPast(ctx context.Context, f *pastFile, then stage, step func(ctx context.Context) error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Minute)
	go func() {
		defer cancel()
		o.drafts.turn <- struct{}{}
		err := step(ctx)
		<-o.drafts.turn
		f.set(func(s *pastState) {
			if s.Failed = err; err != nil {
				s.Stage = stageFailed
				return
			}
			s.Stage = then
		})
		if err != nil && !expected(err) {
			o.Log.Error("past results", "error", err)
		}
	}()
}

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
