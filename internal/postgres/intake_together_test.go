package postgres

import (
	"context"
	"errors"
	"sync"
	"testing"
	"testing/synctest"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
)

// counter is a disk that takes calls, each once it is let.
type counter struct {
	let    chan struct{}
	mu     sync.Mutex
	groups [][]takeCall
	answer func([]takeCall) error
}

func (c *counter) take(_ context.Context, calls []takeCall, _ bool) error {
	<-c.let
	c.mu.Lock()
	defer c.mu.Unlock()
	c.groups = append(c.groups, calls)
	if c.answer == nil {
		return nil
	}
	return c.answer(calls)
}

func (c *counter) sizes() (n []int) {
	for _, g := range c.groups {
		n = append(n, len(g))
	}
	return n
}

// send has n visits come at one time, numbered on from the given one.
func send(ctx context.Context, t *together, from, n int) (errs chan error) {
	errs = make(chan error, n)
	for i := range n {
		go func() { errs <- t.do(ctx, takeCall{from + i}) }()
	}
	return errs
}

func TestVisitsGoToTheDiskTogether(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		disk := &counter{let: make(chan struct{})}
		together := newTogether(disk.take)
		alone := send(t.Context(), together, 0, 1)
		synctest.Wait()
		second := send(t.Context(), together, 1, 1)
		synctest.Wait()
		many := send(t.Context(), together, 2, mostAt+5)
		synctest.Wait()
		close(disk.let)
		synctest.Wait()
		for _, errs := range []chan error{alone, second, many} {
			for range cap(errs) {
				require.NoError(t, <-errs)
			}
		}
		require.ElementsMatch(t, []int{1, 1, mostAt, 5}, disk.sizes(), "who comes alone waits for nobody")
		seen := map[any]bool{}
		for _, g := range disk.groups {
			for _, c := range g {
				require.False(t, seen[c[0]])
				seen[c[0]] = true
			}
		}
		require.Len(t, seen, mostAt+7)
		require.Zero(t, together.calls)
	})
}

func TestOneRefusedVisitIsNotTheOthers(t *testing.T) {
	refused := &pgconn.PgError{Code: "23503"}
	for name, fails := range map[string]error{"the database refuses one": refused, "the database is away": errors.New("away")} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				disk := &counter{let: make(chan struct{}), answer: func(calls []takeCall) error {
					for _, c := range calls {
						if c[0] == 7 {
							return fails
						}
					}
					return nil
				}}
				together := newTogether(disk.take)
				together.calls = underWay // none begins
				errs := send(t.Context(), together, 5, 4)
				synctest.Wait()
				close(disk.let)
				together.run()
				var failed []error
				for range 4 {
					if err := <-errs; err != nil {
						failed = append(failed, err)
					}
				}
				if fails == error(refused) {
					require.Equal(t, []error{fails}, failed)
					require.Equal(t, []int{4, 1, 1, 1, 1}, disk.sizes())
				} else {
					require.Equal(t, []error{fails, fails, fails, fails}, failed)
					require.Equal(t, []int{4}, disk.sizes(), "nobody waits for it four times over")
				}
			})
		})
	}
}

func TestWhoeverHasGoneIsNotStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		disk := &counter{let: make(chan struct{})}
		together := newTogether(disk.take)
		together.calls = underWay
		ctx, cancel := context.WithCancel(t.Context())
		gone, there := send(ctx, together, 0, 3), send(t.Context(), together, 3, 2)
		synctest.Wait()
		cancel()
		for range 3 {
			require.ErrorIs(t, <-gone, context.Canceled)
		}
		close(disk.let)
		together.run()
		require.NoError(t, <-there)
		require.NoError(t, <-there)
		require.Equal(t, []int{2}, disk.sizes())
	})
}

// A visit whose bag somebody else has locked waits by itself: also two of them leave
// the way to the disk free.
func TestWhoeverMustWaitWaitsAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		unlocked := make(chan struct{})
		together := newTogether(func(_ context.Context, calls []takeCall, hurried bool) error {
			for _, c := range calls {
				if c[0].(int) < 2*underWay && hurried {
					return &pgconn.PgError{Code: locked}
				} else if c[0].(int) < 2*underWay {
					<-unlocked
				}
			}
			return nil
		})
		waiting := send(t.Context(), together, 0, 2*underWay)
		synctest.Wait()
		require.Zero(t, together.calls, "the way is free")
		others := send(t.Context(), together, 100, 7)
		for range 7 {
			require.NoError(t, <-others)
		}
		require.Empty(t, waiting)
		close(unlocked)
		for range 2 * underWay {
			require.NoError(t, <-waiting)
		}
	})
}
