package open

import (
	"context"
	"net/http"
	"runtime"
	"strings"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"
	"golang.org/x/sync/semaphore"
	"golang.org/x/sync/singleflight"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
	"sixmile/web/shell"
)

// Outlooks keeps the parameter sets that rotations are looked ahead with.
type Outlooks interface {
	// InForce is the set that counts now.
	InForce(ctx context.Context) (lookahead.Set, error)
	// Set is one version of one name; fault.ErrNotFound where there is none.
	Set(ctx context.Context, name string, version int) (lookahead.Set, error)
}

// Table is the level table in force.
type Table interface {
	Scheme(ctx context.Context) (assay.Scheme, error)
}

// LookDeps is what the pages about rotations, the season and sampling are made
// of.
type LookDeps struct {
	About    desk.About
	Today    func() time.Time // the calendar date
	Outlooks Outlooks
	Table    Table
}

// Looks are those pages, in any number of languages; looks once taken are kept
// for all of them.
type Looks struct {
	LookDeps
	kept   *lru.Cache[string, []lookahead.Outlook]
	held   *lru.Cache[string, []lookahead.Verdict] // sets against published series
	flight singleflight.Group
	turns  *semaphore.Weighted // how many looks are taken at a time
}

// lookPatience is how long a look waits for its turn.
const lookPatience = 3 * time.Second

// keptLooks bounds the looks in memory, some ten kilobytes each; keptSets the
// sets held against published series.
const (
	keptLooks = 256
	keptSets  = 16
)

// NewLooks makes the pages.
func NewLooks(d LookDeps) *Looks {
	kept, err := lru.New[string, []lookahead.Outlook](keptLooks)
	if err != nil {
		panic(err) // only for a size under one
	}
	held, err := lru.New[string, []lookahead.Verdict](keptSets)
	if err != nil {
		panic(err)
	}
	return &Looks{LookDeps: d, kept: kept, held: held, turns: semaphore.NewWeighted(int64(max(1, runtime.GOMAXPROCS(0)/2)))}
}

// Routes are the pages in one language, all of them public.
func (k *Looks) Routes(l *catalog.Lang) []shell.Route {
	in := look{k, l}
	route := func(path string, h shell.Handler) shell.Route {
		return shell.Route{Method: http.MethodGet, Path: path, May: account.Anyone, Handler: h}
	}
	return []shell.Route{
		route("/look-ahead", in.ahead),
		route("/season", in.season),
		route("/how-to-sample", in.sample),
	}
}

// look is the pages in one language.
type look struct {
	*Looks
	Lang *catalog.Lang
}

func (k look) page(title string) shell.Page {
	return shell.Page{Lang: k.Lang, About: k.About, Title: title, Area: "look"}
}

// seed is the same for everybody, so that a question has one answer.
const seed = 6

// turn waits for a look's turn: half of the processors stay free for every other
// page, however many rotations are asked for at once. It is fault.ErrBusy
// where that takes too long.
func (k *Looks) turn(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), lookPatience) // others may wait for the same look
	defer cancel()
	if k.turns.Acquire(ctx, 1) != nil {
		return fault.ErrBusy
	}
	return nil
}

// take looks ahead, or remembers.
func (k *Looks) take(ctx context.Context, set lookahead.Set, f lookahead.Field, plans []lookahead.Plan, cuts []assay.Density) ([]lookahead.Outlook, error) {
	key := lookKey(set, f, plans, cuts)
	if o, ok := k.kept.Get(key); ok {
		return o, nil
	}
	v, err, _ := k.flight.Do(key, func() (any, error) {
		if err := k.turn(ctx); err != nil {
			return nil, err
		}
		defer k.turns.Release(1)
		o, err := lookahead.Ahead(set, f, plans, cuts, lookahead.Options{Seed: seed})
		if err == nil {
			k.kept.Add(key, o)
		}
		return o, err
	})
	if err != nil {
		return nil, err
	}
	return v.([]lookahead.Outlook), nil
}

// against holds a set against published series, or remembers.
func (k *Looks) against(set lookahead.Set) ([]lookahead.Verdict, error) {
	if v, ok := k.held.Get(set.Label()); ok {
		return v, nil
	}
	v, err, _ := k.flight.Do("set "+set.Label(), func() (any, error) {
		v, err := set.Against(lookahead.Trials())
		if err == nil {
			k.held.Add(set.Label(), v)
		}
		return v, err
	})
	if err != nil {
		return nil, err
	}
	return v.([]lookahead.Verdict), nil
}

// lookKey says the same of the same question. A set's version never changes, so
// its label stands for its figures.
func lookKey(set lookahead.Set, f lookahead.Field, plans []lookahead.Plan, cuts []assay.Density) string {
	var b strings.Builder
	b.WriteString(set.Label())
	writeFloats(&b, f.Start.Low, f.Start.High)
	for _, c := range lookahead.Crops {
		if c.Resistant() {
			writeFloats(&b, float64(f.Grown[c]))
		}
	}
	for _, c := range cuts {
		writeFloats(&b, float64(c))
	}
	for _, p := range plans {
		b.WriteString("|")
		for _, c := range p.Crops {
			b.WriteString(string(c) + ",")
		}
		if p.Weeds {
			b.WriteString("w")
		}
		if p.Volunteers {
			b.WriteString("v")
		}
	}
	return b.String()
}
