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

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/gazette"
)

// Editions reads released editions. A version's number is 0 before the first,
// and Issue of 0 is the places without figures.
type Editions interface {
	Version(ctx context.Context) (gazette.Version, error)
	Issue(ctx context.Context, no int) (*gazette.Issue, error)
}

const (
	// keptPages bounds the pages and drawings kept in memory: a county page
	// takes about a quarter of a megabyte.
	keptPages = 300
	// freshFor is how long an edition of one version is believed unchanged: an
	// office may give a place another name, or add a town.
	freshFor = 30 * time.Second
	// believedFor is how long the answer that nothing has changed holds for others
	// who ask: long for a machine, nothing for a person who has just taken a figure
	// back.
	believedFor = 5 * time.Millisecond
	// believedMeanwhile is how long it holds for others while one who came first is
	// asking anew: he waits for the answer, they do not. Who asks alone is always
	// answered by what was so at most believedFor ago.
	believedMeanwhile = 25 * time.Millisecond
	// retryAfter is how long the last known edition is served unasked after
	// the database did not answer, and askFor how long one question may take.
	retryAfter = 5 * time.Second
	askFor     = 5 * time.Second
)

// reading is an edition as it was read. Two readings with the same generation
// are the same.
type reading struct {
	gen     int
	version gazette.Version
	index   *gazette.Index
	issue   *gazette.Issue
	offices []desk.Office
	loaded  time.Time
}

// shelf keeps the edition that is shown, and what was rendered from it.
type shelf struct {
	editions Editions
	offices  Offices // nil: no page tells where bags are
	log      *slog.Logger
	now      func() time.Time
	flight   singleflight.Group
	pages    *lru.Cache[string, *sheet]

	mu     sync.Mutex
	last   *reading
	asking bool      // somebody is asking the database now
	asked  time.Time // when the database was last asked
	failed time.Time // when it last did not answer
}

func newShelf(e Editions, o Offices, log *slog.Logger, now func() time.Time) *shelf {
	pages, err := lru.New[string, *sheet](keptPages)
	if err != nil {
		panic(err) // only for a size under one
	}
	return &shelf{editions: e, offices: o, log: log, now: now, pages: pages}
}

// current is the newest edition that stands. While the database does not answer
// it is the last one known.
func (s *shelf) current(ctx context.Context) (*reading, error) {
	s.mu.Lock()
	last, asked, failed, asking := s.last, s.asked, s.failed, s.asking
	s.mu.Unlock()
	now := s.now()
	if last != nil && !failed.IsZero() && now.Sub(failed) < retryAfter {
		return last, nil
	}
	// A clock that stands, as in tests, lets nobody believe anything.
	if since := now.Sub(asked); last != nil && since > 0 && (since < believedFor || asking && since < believedMeanwhile) {
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
	last, begun := s.last, s.now()
	s.asking = true
	s.mu.Unlock()
	r, err := s.read(ctx, last)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.asking = false
	switch {
	case err == nil:
		s.last, s.asked, s.failed = r, begun, time.Time{}
	case last != nil:
		s.failed = s.now()
		s.log.Warn("the last known edition is shown", "edition", last.version.Number, "error", err)
		return last, nil
	}
	return r, err
}

// read asks for the newest edition and loads it unless last is still it.
func (s *shelf) read(ctx context.Context, last *reading) (*reading, error) {
	version, err := s.editions.Version(ctx)
	if err != nil {
		return nil, fmt.Errorf("newest edition: %w", err)
	}
	if last != nil && last.version == version && s.now().Sub(last.loaded) < freshFor {
		return last, nil
	}
	r := &reading{gen: 1, version: version, loaded: s.now()}
	if r.issue, err = s.editions.Issue(ctx, version.Number); err != nil {
		return nil, fmt.Errorf("edition %d: %w", version.Number, err)
	}
	if s.offices != nil {
		if r.offices, err = s.offices.Offices(ctx); err != nil {
			return nil, fmt.Errorf("offices: %w", err)
		}
	}
	if last != nil {
		if reflect.DeepEqual(last.issue, r.issue) && reflect.DeepEqual(last.offices, r.offices) {
			same := *last
			same.version, same.loaded = version, s.now()
			return &same, nil
		}
		r.gen = last.gen + 1
	}
	if r.index, err = gazette.NewIndex(r.issue); err != nil {
		return nil, fmt.Errorf("edition %d: %w", version.Number, err)
	}
	return r, nil
}

// tongueShelf is the shelf for one language: what it keeps is told apart by it.
type tongueShelf struct {
	*shelf
	lang *catalog.Lang
}

// sheet is the shelf's, for one language.
func (s tongueShelf) sheet(r *reading, name string, render func() (*sheet, error)) (*sheet, error) {
	return s.shelf.sheet(r, s.lang.Key()+" "+name, render)
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
