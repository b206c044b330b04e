package open

import (
	"context"
	"fmt"
	"log/slog"
	"reflect"
	"sync"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"
	"golang.org/x/sync/singleflight"

	"sixmile/internal/gazette"
)

// Editions reads released editions. Latest is 0 before the first, and Issue of
// 0 is the places without figures.
type Editions interface {
	Latest(ctx context.Context) (int, error)
	Issue(ctx context.Context, no int) (*gazette.Issue, error)
}

const (
	// keptPages bounds the pages and drawings kept in memory: a county page
	// takes about a quarter of a megabyte.
	keptPages = 300
	// freshFor is how long an edition is believed unchanged: withdrawing an
	// earlier one changes what a later one shows.
	freshFor = 30 * time.Second
	// retryAfter is how long the last known edition is served unasked after
	// the database did not answer, and askFor how long one question may take.
	retryAfter = 5 * time.Second
	askFor     = 5 * time.Second
)

// reading is an edition as it was read. Two readings with the same generation
// are the same.
type reading struct {
	gen    int
	no     int
	index  *gazette.Index
	issue  *gazette.Issue
	loaded time.Time
}

// shelf keeps the edition that is shown, and what was rendered from it.
type shelf struct {
	editions Editions
	log      *slog.Logger
	now      func() time.Time
	flight   singleflight.Group
	pages    *lru.Cache[string, *sheet]

	mu     sync.Mutex
	last   *reading
	failed time.Time // when the database last did not answer
}

func newShelf(e Editions, log *slog.Logger, now func() time.Time) *shelf {
	pages, err := lru.New[string, *sheet](keptPages)
	if err != nil {
		panic(err) // only for a size under one
	}
	return &shelf{editions: e, log: log, now: now, pages: pages}
}

// current is the newest edition that stands. While the database does not answer
// it is the last one known.
func (s *shelf) current(ctx context.Context) (*reading, error) {
	s.mu.Lock()
	last, failed := s.last, s.failed
	s.mu.Unlock()
	if last != nil && !failed.IsZero() && s.now().Sub(failed) < retryAfter {
		return last, nil
	}
	// One question at a time for all readers; it goes on when the reader who
	// asked first has left.
	v, err, _ := s.flight.Do("current", func() (any, error) {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), askFor)
		defer cancel()
		return s.ask(ctx)
	})
	if err != nil {
		return nil, err
	}
	return v.(*reading), nil
}

func (s *shelf) ask(ctx context.Context) (*reading, error) {
	s.mu.Lock()
	last := s.last
	s.mu.Unlock()
	r, err := s.read(ctx, last)
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case err == nil:
		s.last, s.failed = r, time.Time{}
	case last != nil:
		s.failed = s.now()
		s.log.Warn("the last known edition is shown", "edition", last.no, "error", err)
		return last, nil
	}
	return r, err
}

// read asks for the newest edition and loads it unless last is still it.
func (s *shelf) read(ctx context.Context, last *reading) (*reading, error) {
	no, err := s.editions.Latest(ctx)
	if err != nil {
		return nil, fmt.Errorf("newest edition: %w", err)
	}
	if last != nil && last.no == no && s.now().Sub(last.loaded) < freshFor {
		return last, nil
	}
	issue, err := s.editions.Issue(ctx, no)
	if err != nil {
		return nil, fmt.Errorf("edition %d: %w", no, err)
	}
	if last != nil && last.no == no && reflect.DeepEqual(last.issue, issue) {
		same := *last
		same.loaded = s.now()
		return &same, nil
	}
	index, err := gazette.NewIndex(issue)
	if err != nil {
		return nil, fmt.Errorf("edition %d: %w", no, err)
	}
	gen := 1
	if last != nil {
		gen = last.gen + 1
	}
	return &reading{gen: gen, no: no, index: index, issue: issue, loaded: s.now()}, nil
}

// sheet finds what was rendered under a name from this reading, or renders it
// once for all who ask.
func (s *shelf) sheet(r *reading, name string, render func() (*sheet, error)) (*sheet, error) {
	key := fmt.Sprintf("%d %s", r.gen, name)
	if p, ok := s.pages.Get(key); ok {
		return p, nil
	}
	v, err, _ := s.flight.Do("page "+key, func() (any, error) {
		p, err := render()
		if err == nil {
			s.pages.Add(key, p)
		}
		return p, err
	})
	if err != nil {
		return nil, err
	}
	return v.(*sheet), nil
}
