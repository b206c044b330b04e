package office

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
)

func tokenN(n byte) sample.Token { return sample.Token{n} }

// One each, so many in all, and nobody sees another's.
func TestShelfIsBounded(t *testing.T) {
	s := &shelf[int]{most: 3}
	for i := range byte(9) {
		one := s.put(tokenN(i), account.ID{i}, int(i))
		require.Equal(t, int(i), one.look())
		require.LessOrEqual(t, len(s.list), 3)
	}
	for i := range byte(9) {
		got, err := s.find(tokenN(i).String(), account.ID{i})
		if i < 6 {
			require.ErrorIs(t, err, fault.ErrNotFound, "pushed out")
			continue
		}
		require.NoError(t, err)
		require.Equal(t, int(i), got.look())
		_, err = s.find(tokenN(i).String(), account.ID{i + 1})
		require.ErrorIs(t, err, fault.ErrNotFound, "another's")
	}
	second := s.put(tokenN(77), account.ID{7}, 77)
	require.Len(t, s.list, 3, "a person's new one takes the place of the old one, and pushes nobody out")
	_, err := s.find(tokenN(7).String(), account.ID{7})
	require.ErrorIs(t, err, fault.ErrNotFound)
	s.drop(second)
	require.Len(t, s.list, 2)
	s.drop(second)
	_, err = s.find("x", account.ID{7})
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.Nil(t, second.timer)
}

// What lasts goes by itself, and leaves no timer behind when it goes before.
func TestShelfEnds(t *testing.T) {
	s := &shelf[int]{most: 1, lasts: time.Hour}
	first := s.put(tokenN(1), account.ID{1}, 1)
	second := s.put(tokenN(2), account.ID{2}, 2)
	require.False(t, first.timer.Stop(), "its timer was stopped when it was pushed out")
	require.True(t, second.timer.Reset(0), "its timer ran")
	require.Eventually(t, func() bool {
		_, err := s.find(tokenN(2).String(), account.ID{2})
		return errors.Is(err, fault.ErrNotFound)
	}, 5*time.Second, time.Millisecond)
}

// Work is done one piece at a time, outlives the request that asked for it, and
// not its patience.
func TestLane(t *testing.T) {
	l := newLane()
	gone, cancel := context.WithCancel(t.Context())
	cancel() // the request is over
	var mu sync.Mutex
	var at, most int
	var all sync.WaitGroup
	for range 8 {
		all.Add(1)
		l.run(gone, time.Minute, func(ctx context.Context) error {
			mu.Lock()
			at++
			most = max(most, at)
			mu.Unlock()
			time.Sleep(time.Millisecond)
			mu.Lock()
			at--
			mu.Unlock()
			return ctx.Err()
		}, func(err error) {
			if err != nil {
				t.Errorf("ended with its request: %v", err)
			}
			all.Done()
		})
	}
	all.Wait()
	require.Equal(t, 1, most)
	ended := make(chan error)
	l.run(t.Context(), time.Nanosecond, func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() }, func(err error) { ended <- err })
	require.ErrorIs(t, <-ended, context.DeadlineExceeded)
	l.take()() // and the lane is free again

	// A file that brings a step to a panic fails alone.
	l.run(t.Context(), time.Minute, func(context.Context) error { panic("a file nobody thought of") }, func(err error) { ended <- err })
	require.ErrorContains(t, <-ended, "a file nobody thought of")
	l.take()()
}

// So do boundaries.
func TestBoundariesFailAlone(t *testing.T) {
	o := &office{plats: newPlats()}
	o.Log = slog.New(slog.DiscardHandler)
	require.NoError(t, o.begin(t.Context(), "/x", func(context.Context) (string, error) { panic("a file nobody thought of") }))
	require.Eventually(t, func() bool { return !o.plats.look("/x").Running }, 5*time.Second, time.Millisecond)
	require.ErrorContains(t, o.plats.look("/x").Failed, "a file nobody thought of")
	require.NoError(t, o.begin(t.Context(), "/y", func(context.Context) (string, error) { return "", nil }), "the next one's turn")
}

func TestProgress(t *testing.T) {
	s := &shelf[draftState]{most: 1}
	d := s.put(tokenN(1), account.ID{1}, draftState{progress: progress{Stage: stageFailed, Done: 7, Failed: fault.ErrConflict}})
	require.True(t, d.look().Open())
	require.NoError(t, begin(d, stageReading))
	require.Equal(t, progress{Stage: stageReading}, d.look().progress, "a new step begins at nothing")
	require.ErrorIs(t, begin(d, stageStoring), errBusy)
	require.True(t, d.look().Busy())
	d.set(func(s *draftState) { s.end(fault.ErrConflict, stageRead) })
	require.Equal(t, stageFailed, d.look().Stage)
	require.ErrorIs(t, d.look().Failed, fault.ErrConflict)
	require.NoError(t, begin(d, stageStoring))
	d.set(func(s *draftState) { s.end(nil, stageTaken) })
	require.Equal(t, progress{Stage: stageTaken}, d.look().progress)
	require.False(t, d.look().Open())
	require.False(t, d.look().Busy())
}
