package postgres

import (
	"context"
	"errors"
	"sync"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
)

// Visits that come while others are on their way to the disk wait for each other
// and go together: a transaction, a call and a wait for the disk for all of them.
// Whoever comes alone waits for nobody, and who has to wait for the office waits alone.
const (
	underWay = 2  // calls at a time
	mostAt   = 64 // visits in one
	// How many visits are stored by themselves meanwhile, and how many of them wait for
	// a lock: pages need connections too.
	mostApart   = 4
	mostPatient = 6
)

// takeWithin bounds one call; who asks gives up sooner.
const takeWithin = 10 * time.Second

// together gathers visits.
type together struct {
	// take stores visits, all of them or none.
	take    func(ctx context.Context, calls []takeCall, hurried bool) error
	apart   chan struct{} // a place each
	patient chan struct{}
	mu      sync.Mutex
	waiting []*waiter
	calls   int
}

func newTogether(take func(ctx context.Context, calls []takeCall, hurried bool) error) *together {
	return &together{take: take, apart: make(chan struct{}, mostApart), patient: make(chan struct{}, mostPatient)}
}

type waiter struct {
	ctx  context.Context
	call takeCall
	done chan error // of one
}

// do stores a visit with those that wait beside it. After an error of ctx it may
// have been stored all the same, as after any connection that broke.
func (t *together) do(ctx context.Context, call takeCall) error {
	w := &waiter{ctx, call, make(chan error, 1)}
	t.mu.Lock()
	t.waiting = append(t.waiting, w)
	if t.calls < underWay {
		t.calls++
		go t.run()
	}
	t.mu.Unlock()
	select {
	case err := <-w.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// run takes what waits until nothing does.
func (t *together) run() {
	for {
		t.mu.Lock()
		group := t.next()
		if len(group) == 0 {
			t.calls--
			t.mu.Unlock()
			return
		}
		t.mu.Unlock()
		t.store(group)
	}
}

// next is the visits that have waited longest. Whoever has gone is not stored any
// more.
func (t *together) next() (group []*waiter) {
	n := 0
	for _, w := range t.waiting {
		if len(group) == mostAt {
			break
		}
		if n++; w.ctx.Err() == nil {
			group = append(group, w)
		}
	}
	t.waiting = t.waiting[n:]
	return group
}

func (t *together) store(group []*waiter) {
	calls := make([]takeCall, len(group))
	for i, w := range group {
		calls[i] = w.call
	}
	err := t.takeIn(calls, true)
	// One of them may be what the database refuses, or wait for a bag that the office
	// is at: the others have no part in it, and neither have those who come next.
	var pg *pgconn.PgError
	apart := errors.As(err, &pg) && (len(group) > 1 || pg.Code == locked)
	for _, w := range group {
		if apart {
			go t.storeAlone(w, len(group) == 1)
			continue
		}
		w.done <- err
	}
}

// storeAlone stores a visit by itself. One that waits for a lock does so where nobody
// stands behind it but others that wait.
func (t *together) storeAlone(w *waiter, waits bool) {
	var err error
	if !waits {
		err = t.at(t.apart, w, true)
		var pg *pgconn.PgError
		waits = errors.As(err, &pg) && pg.Code == locked
	}
	if waits {
		err = t.at(t.patient, w, false)
	}
	w.done <- err
}

// at stores a visit once there is a place.
func (t *together) at(places chan struct{}, w *waiter, hurried bool) error {
	select {
	case places <- struct{}{}:
		defer func() { <-places }()
	case <-w.ctx.Done():
	}
	if err := w.ctx.Err(); err != nil {
		return err
	}
	return t.takeIn([]takeCall{w.call}, hurried)
}

func (t *together) takeIn(calls []takeCall, hurried bool) error {
	ctx, cancel := context.WithTimeout(context.Background(), takeWithin)
	defer cancel()
	return t.take(ctx, calls, hurried)
}
