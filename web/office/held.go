package office

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
)

// held is something of one person's that is worked on apart from any request, and
// looked at while it is: a file that was sent, a file that is made. It is in
// memory alone.
type held[S any] struct {
	owner account.ID
	token sample.Token // its address
	timer *time.Timer  // ends it; nil: only newer ones do

	mu    sync.Mutex
	state S
}

// look is a consistent view of it.
func (h *held[S]) look() S {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.state
}

// set changes it.
func (h *held[S]) set(change func(*S)) {
	h.mu.Lock()
	defer h.mu.Unlock()
	change(&h.state)
}

// shelf is what is held of one kind: one each, so many in all, and the newest of
// them. The zero lasts: until newer ones push it out.
type shelf[S any] struct {
	most  int
	lasts time.Duration

	mu   sync.Mutex
	list []*held[S] // oldest first
}

// put holds something. It takes the place of what the same person has there.
func (s *shelf[S]) put(token sample.Token, owner account.ID, state S) *held[S] {
	one := &held[S]{owner: owner, token: token, state: state}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.remove(func(h *held[S]) bool { return h.owner == owner })
	s.list = append(s.list, one)
	if over := len(s.list) - s.most; over > 0 {
		oldest := slices.Clone(s.list[:over])
		s.remove(func(h *held[S]) bool { return slices.Contains(oldest, h) })
	}
	if s.lasts > 0 {
		one.timer = time.AfterFunc(s.lasts, func() { s.drop(one) })
	}
	return one
}

// find gives a person's own. fault.ErrNotFound: it is gone, or another's.
func (s *shelf[S]) find(token string, owner account.ID) (*held[S], error) {
	t, err := sample.ParseToken(token)
	if err != nil {
		return nil, fault.ErrNotFound
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, h := range s.list {
		if h.token == t && h.owner == owner {
			return h, nil
		}
	}
	return nil, fault.ErrNotFound
}

// drop holds it no more.
func (s *shelf[S]) drop(one *held[S]) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.remove(func(h *held[S]) bool { return h == one })
}

// remove wants the lock. A timer left behind would hold what it is to end.
func (s *shelf[S]) remove(which func(*held[S]) bool) {
	s.list = slices.DeleteFunc(s.list, func(h *held[S]) bool {
		gone := which(h)
		if gone && h.timer != nil {
			h.timer.Stop()
		}
		return gone
	})
}

// lane has large work done one piece at a time.
type lane chan struct{}

func newLane() lane { return make(lane, 1) }

// take waits for its turn; what it gives ends it.
func (l lane) take() (end func()) {
	l <- struct{}{}
	return func() { <-l }
}

// run does work in its turn, apart from the request that asked for it, and hands
// on how it ended. It ends with its patience at the latest.
func (l lane) run(ctx context.Context, patience time.Duration, work func(context.Context) error, ended func(error)) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), patience)
	go func() {
		defer cancel()
		end := l.take()
		err := unharmed(func() error { return work(ctx) })
		end()
		ended(err)
	}()
}

// unharmed has work that goes on apart from any request fail alone: nobody above it
// would keep a panic, over a file that somebody sent, from ending the program and
// everybody's forms with it.
func unharmed(work func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("panic: %v\n%s", v, debug.Stack())
		}
	}()
	return work()
}

// stage is how far a file that was sent has come.
type stage string

// The stages.
const (
	stageReading stage = "reading" // its rows get their verdicts
	stageRead    stage = "read"
	stageStoring stage = "storing"
	stageTaken   stage = "taken"
	stageFailed  stage = "failed"
)

// progress is how far a file that was sent has come, and how the last step ended.
type progress struct {
	Stage  stage
	Done   int // rows
	Failed error
}

// Busy tells that it is worked on.
func (p progress) Busy() bool { return p.Stage == stageReading || p.Stage == stageStoring }

// Open tells that its columns can be picked anew.
func (p progress) Open() bool { return p.Stage == stageRead || p.Stage == stageFailed }

// errBusy: the file is being read or stored just now.
var errBusy = errors.New("office: the file is being worked on")

// start moves a file on to a stage, unless it is worked on.
func (p *progress) start(to stage) error {
	if p.Busy() {
		return errBusy
	}
	*p = progress{Stage: to}
	return nil
}

// end notes how a step ended.
func (p *progress) end(err error, then stage) {
	if p.Failed, p.Stage = err, then; err != nil {
		p.Stage = stageFailed
	}
}

// staged is the state of a file that was sent, with its progress in it.
type staged[S any] interface {
	*S
	start(to stage) error
	end(err error, then stage)
}

// begin moves a file on to a stage. errBusy: it is worked on.
func begin[S any, P staged[S]](h *held[S], to stage) (err error) {
	h.set(func(s *S) { err = P(s).start(to) })
	return err
}

// filePatience is how long a step of a file may take.
const filePatience = 5 * time.Minute

// work runs a step of a file in its turn.
func work[S any, P staged[S]](ctx context.Context, o *office, h *held[S], then stage, step func(context.Context) error) {
	o.files.run(ctx, filePatience, step, func(err error) {
		h.set(func(s *S) { P(s).end(err, then) })
		if err != nil && !expected(err) {
			o.Log.Error("file of an upload", "error", err)
		}
	})
}
