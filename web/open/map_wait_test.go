package open

import (
	"context"
	"io"
	"log/slog"
	"net/http/httptest"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"
	"weak"

	"github.com/stretchr/testify/require"

	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// slowEditions is a store of which questions and readings wait until they may go on.
type slowEditions struct {
	*fakeEditions
	version, issue chan struct{} // nil: at once
}

func (s *slowEditions) Version(ctx context.Context) (gazette.Version, error) {
	if s.version != nil {
		<-s.version
	}
	return s.fakeEditions.Version(ctx)
}

func (s *slowEditions) Issue(ctx context.Context, no int) (*gazette.Issue, error) {
	if s.issue != nil {
		<-s.issue
	}
	return s.fakeEditions.Issue(ctx, no)
}

func slowShelf(t *testing.T) (*shelf, *slowEditions, *atomic.Int64) {
	issue := inventedIssue()
	store := &slowEditions{fakeEditions: &fakeEditions{issue: func(int) *gazette.Issue { return issue }}}
	store.no.Store(int32(issue.Edition.Number))
	at := &atomic.Int64{}
	at.Store(int64(1_000_000 * time.Hour))
	s := newShelf(store, nil, slog.New(slog.NewTextHandler(io.Discard, nil)), func() time.Time { return time.Unix(0, at.Load()) })
	_, err := s.current(t.Context())
	require.NoError(t, err)
	return s, store, at
}

// Whoever comes first asks and waits; who comes meanwhile is answered by what was
// known a moment ago, but not by what was known longer ago.
func TestOneAsksForAll(t *testing.T) {
	s, store, at := slowShelf(t)
	old := s.last
	store.version = make(chan struct{})
	store.no.Add(1)
	at.Add(int64(believedFor))
	first := make(chan *reading)
	go func() {
		r, _ := s.current(context.Background())
		first <- r
	}()
	require.Eventually(t, func() bool { s.mu.Lock(); defer s.mu.Unlock(); return s.asking }, 5*time.Second, time.Millisecond)
	r, err := s.current(t.Context())
	require.NoError(t, err)
	require.Same(t, old, r)
	at.Add(int64(believedMeanwhile))
	late := make(chan *reading)
	go func() {
		r, _ := s.current(context.Background())
		late <- r
	}()
	select {
	case <-late:
		t.Fatal("what was known long ago was believed")
	case <-time.After(50 * time.Millisecond):
	}
	close(store.version)
	require.NotSame(t, old, <-first)
	require.NotSame(t, old, <-late)
}

// An edition that takes long to read is read anew while the last reading is shown;
// another edition is waited for.
func TestReadAnewMeanwhile(t *testing.T) {
	s, store, at := slowShelf(t)
	s.last.took = 10 * time.Second
	old := s.last
	at.Add(int64(rarely*10*time.Second) - 1)
	r, err := s.current(t.Context())
	require.NoError(t, err)
	require.Same(t, old, r)
	require.EqualValues(t, 1, store.loaded.Load())

	other := inventedIssue()
	other.Counties[0].Name = "Wexford"
	store.fakeEditions.issue = func(int) *gazette.Issue { return other }
	store.issue = make(chan struct{})
	at.Add(int64(time.Second))
	for range 3 {
		r, err = s.current(t.Context())
		require.NoError(t, err)
		require.Same(t, old, r)
		at.Add(int64(time.Second))
	}
	close(store.issue)
	require.Eventually(t, func() bool {
		r, err := s.current(t.Context())
		return err == nil && r.gen == old.gen+1
	}, 5*time.Second, time.Millisecond)
	require.EqualValues(t, 2, store.loaded.Load())

	s.last.took = 10 * time.Second
	store.no.Add(1)
	at.Add(int64(time.Second))
	r, err = s.current(t.Context())
	require.NoError(t, err)
	require.Equal(t, int(store.no.Load()), r.version.Number)
}

// Two readings that follow the same one at a time, anew and of another edition, are
// not taken for each other: pages are kept by it.
func TestReadingsAreToldApart(t *testing.T) {
	s, store, _ := slowShelf(t)
	old, seen := s.last, map[int]bool{s.last.gen: true}
	for _, name := range []string{"Wexford", "Wexham"} {
		other := inventedIssue()
		other.Counties[0].Name = name
		store.fakeEditions.issue = func(int) *gazette.Issue { return other }
		r, err := s.load(t.Context(), old, old.version)
		require.NoError(t, err)
		require.False(t, seen[r.gen])
		seen[r.gen] = true
	}
}

// An edition that brings the program to a panic leaves the last one standing, also
// where it is read while nobody waits.
func TestAnEditionThatPanics(t *testing.T) {
	s, store, at := slowShelf(t)
	old := s.last
	store.fakeEditions.issue = func(int) *gazette.Issue { panic("nobody thought of this") }
	s.last.took = 10 * time.Second
	at.Add(int64(rarely * 10 * time.Second))
	r, err := s.current(t.Context())
	require.NoError(t, err)
	require.Same(t, old, r)
	require.Eventually(t, func() bool { s.mu.Lock(); defer s.mu.Unlock(); return !s.again }, 5*time.Second, time.Millisecond)
	store.no.Add(1)
	at.Add(int64(time.Second))
	r, err = s.current(t.Context())
	require.NoError(t, err)
	require.Equal(t, old.gen, r.gen)
}

// However many pages are asked for, few are made at a time.
func TestPagesAreMadeInTurn(t *testing.T) {
	s, _, _ := slowShelf(t)
	var at, most atomic.Int32
	var all sync.WaitGroup
	let := make(chan struct{})
	for i := range 5 * cap(s.making) {
		all.Go(func() {
			_, err := s.sheet(s.last, strconv.Itoa(i), func() (*sheet, error) {
				n := at.Add(1)
				for so := most.Load(); n > so && !most.CompareAndSwap(so, n); so = most.Load() {
				}
				<-let
				at.Add(-1)
				return &sheet{}, nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	require.Eventually(t, func() bool { return int(at.Load()) == cap(s.making) }, 5*time.Second, time.Millisecond)
	close(let)
	all.Wait()
	require.EqualValues(t, cap(s.making), most.Load())
}

// What the front remembers of a page holds on to the page, not to the edition that it
// was made of.
func TestAKeptPageHoldsNoEdition(t *testing.T) {
	s := newSite(inventedIssue())
	all := NewMaps(MapDeps{Editions: s.store, Today: s.today, Now: s.clock.now, Log: slog.New(slog.DiscardHandler)}).maps
	var kept shell.Kept
	read := func() weak.Pointer[reading] {
		now, err := all.shelf.current(t.Context())
		require.NoError(t, err)
		r := shell.WithKept(httptest.NewRequest("GET", "/", nil), &kept)
		all.send(httptest.NewRecorder(), r, now, &sheet{kind: htmlKind})
		return weak.Make(now)
	}
	was := read()
	require.True(t, kept.Stands(t.Context()))
	fresh := inventedIssue()
	fresh.Counties[0].Name = "Wexford"
	s.store.issue = func(int) *gazette.Issue { return fresh }
	s.store.no.Add(1)
	require.False(t, kept.Stands(t.Context()))
	runtime.GC()
	require.Nil(t, was.Value())
	runtime.KeepAlive(kept)
}
