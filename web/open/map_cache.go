package open

import (
	"context"
	"fmt"
	"log/slog"
	"reflect"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
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
	// loadFor is how long reading an edition may take: a nation's takes most of a
	// minute, a state's a tenth of a second. One that takes longer than slowLoad is
	// read anew, to see what an office has changed, while the last reading is shown,
	// and no more than one minute in rarely.
	loadFor  = 3 * time.Minute
	slowLoad = time.Second
	rarely   = 20
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
	took    time.Duration // reading it
	places  uint64        // placesOf the issue
}

// shelf keeps the edition that is shown, and what was rendered from it.
type shelf struct {
	editions Editions
	offices  Offices // nil: no page tells where bags are
	log      *slog.Logger
	now      func() time.Time
	flight   singleflight.Group
	pages    *lru.Cache[string, *sheet]
	gens     atomic.Int64  // readings that were like none before
	making   chan struct{} // a place a page that is being made

	mu     sync.Mutex
	last   *reading
	asking bool      // somebody is asking the database now
	again  bool      // the edition is being read anew meanwhile
	asked  time.Time // when the database was last asked
	failed time.Time // when it last did not answer
}

func newShelf(e Editions, o Offices, log *slog.Logger, now func() time.Time) *shelf {
	pages, err := lru.New[string, *sheet](keptPages)
	if err != nil {
		panic(err) // only for a size under one
	}
	return &shelf{editions: e, offices: o, log: log, now: now, pages: pages, making: make(chan struct{}, 2*runtime.GOMAXPROCS(0))}
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
		return s.ask(context.WithoutCancel(ctx))
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
		s.asked, s.failed = begun, time.Time{}
		if r != last { // which may have been read anew meanwhile
			s.last = r
		}
	case last != nil:
		s.failed = s.now()
		s.log.Warn("the last known edition is shown", "edition", last.version.Number, "error", err)
		return last, nil
	}
	return r, err
}

// read asks for the newest edition and loads it unless last is still it.
func (s *shelf) read(ctx context.Context, last *reading) (*reading, error) {
	asking, cancel := context.WithTimeout(ctx, askFor)
	defer cancel()
	version, err := s.editions.Version(asking)
	if err != nil {
		return nil, fmt.Errorf("newest edition: %w", err)
	}
	if last == nil || last.version != version {
		return s.load(ctx, last, version)
	}
	switch age := s.now().Sub(last.loaded); {
	case age < max(freshFor, rarely*last.took):
		return last, nil
	case last.took < slowLoad:
		return s.load(ctx, last, version)
	}
	s.loadMeanwhile(ctx, last)
	return last, nil
}

// loadMeanwhile reads an edition anew that takes long to read; who asks is not
// kept waiting.
func (s *shelf) loadMeanwhile(ctx context.Context, last *reading) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.again || s.last != last { // it is being read, or was since last was looked at
		return
	}
	s.again = true
	go func() {
		r, err := s.load(ctx, last, last.version)
		if err != nil {
			s.log.Warn("the edition could not be read anew", "edition", last.version.Number, "error", err)
			same := *last
			same.loaded = s.now()
			r = &same
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		s.again = false
		if s.last == last {
			s.last = r
		}
	}()
}

// load reads an edition whole. One that cannot be read, whatever is wrong with it, is
// an error: pages go on with the last that could.
func (s *shelf) load(ctx context.Context, last *reading, version gazette.Version) (r *reading, err error) {
	defer func() {
		if v := recover(); v != nil {
			r, err = nil, fmt.Errorf("edition %d: panic: %v\n%s", version.Number, v, debug.Stack())
		}
	}()
	ctx, cancel := context.WithTimeout(ctx, loadFor)
	defer cancel()
	r = &reading{version: version, loaded: s.now()}
	if r.issue, err = s.editions.Issue(ctx, version.Number); err != nil {
		return nil, fmt.Errorf("edition %d: %w", version.Number, err)
	}
	r.took = s.now().Sub(r.loaded)
	if s.offices != nil {
		if r.offices, err = s.offices.Offices(ctx); err != nil {
			return nil, fmt.Errorf("offices: %w", err)
		}
	}
	if last != nil {
		if reflect.DeepEqual(last.issue, r.issue) && reflect.DeepEqual(last.offices, r.offices) {
			same := *last
			same.version, same.loaded, same.took = version, s.now(), r.took
			return &same, nil
		}
	}
	// Not the one after last's: another reading may have followed it meanwhile.
	r.gen = int(s.gens.Add(1))
	if r.index, err = gazette.NewIndex(r.issue); err != nil {
		return nil, fmt.Errorf("edition %d: %w", version.Number, err)
	}
	r.places = placesOf(r.issue)
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
		p, err := s.inTurn(render)
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

// inTurn makes a page. To make one takes megabytes, most of them for the
// packing; more at a time than there are processors would be no sooner ready.
func (s *shelf) inTurn(render func() (*sheet, error)) (*sheet, error) {
	s.making <- struct{}{}
	defer func() { <-s.making }()
	return render()
}
