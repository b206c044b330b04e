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
// Whoever comes alone waits for nobody.
const (
	underWay = 2  // calls at a time
	mostAt   = 64 // visits in one
)

// takeWithin bounds one call; who asks gives up sooner.
const takeWithin = 10 * time.Second

// together gathers visits.
type together struct {
	take    func(ctx context.Context, calls []takeCall) error
	mu      sync.Mutex
	waiting []*waiter
	calls   int
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
	ctx, cancel := context.WithTimeout(context.Background(), takeWithin)
	defer cancel()
	calls := make([]takeCall, len(group))
	for i, w := range group {
		calls[i] = w.call
	}
	err := t.take(ctx, calls)
	// One of them may be what the database refuses; the others have no part in it.
	var pg *pgconn.PgError
	apart := len(group) > 1 && errors.As(err, &pg)
	for i, w := range group {
		if apart {
			err = t.take(ctx, calls[i:i+1])
		}
		w.done <- err
	}
}
