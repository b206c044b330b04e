package open

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"sync"
	"time"

	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// ground is the places and seasons of the form. It never changes once made.
type ground struct {
	counties  []place.Place // by name
	townships map[place.ID][]place.Place
	places    map[place.ID]place.Place
	seasons   []sample.Season   // newest first
	ends      map[int]time.Time // by fall: until when its answers can be opened; nil: not known
}

func newGround(places []place.Place, seasons []sample.Season) *ground {
	g := &ground{townships: map[place.ID][]place.Place{}, places: map[place.ID]place.Place{}, seasons: slices.Clone(seasons)}
	for _, p := range places {
		g.places[p.ID] = p
		switch p.Kind {
		case place.County:
			g.counties = append(g.counties, p)
		case place.Township:
			g.townships[p.County] = append(g.townships[p.County], p)
		}
	}
	slices.SortStableFunc(g.counties, func(a, b place.Place) int { return cmp.Compare(a.Name, b.Name) })
	for _, list := range g.townships {
		slices.SortStableFunc(list, func(a, b place.Place) int { return natural(a.Label(), b.Label()) })
	}
	slices.SortStableFunc(g.seasons, func(a, b sample.Season) int { return cmp.Compare(b.Year, a.Year) })
	return g
}

func (g *ground) bySlug(slug string) (place.Place, bool) {
	i := slices.IndexFunc(g.counties, func(p place.Place) bool { return p.Slug == slug })
	if i < 0 {
		return place.Place{}, false
	}
	return g.counties[i], true
}

func (g *ground) rules(today time.Time) sample.Ground {
	return sample.Ground{Today: today, Seasons: g.seasons, Places: func(id place.ID) (place.Place, bool) {
		p, ok := g.places[id]
		return p, ok
	}}
}

// natural compares with numbers by their size, so that T9N comes before T10N.
func natural(a, b string) int {
	for a != "" && b != "" {
		na, nb := digits(a), digits(b)
		if na > 0 && nb > 0 {
			x, y := strings.TrimLeft(a[:na], "0"), strings.TrimLeft(b[:nb], "0")
			if c := cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y)); c != 0 {
				return c
			}
			a, b = a[na:], b[nb:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// digits is how many digits s begins with.
func digits(s string) int {
	n := 0
	for n < len(s) && '0' <= s[n] && s[n] <= '9' {
		n++
	}
	return n
}

// groundAge is how long the form uses what it knows of places and seasons
// before it asks again: they change once a year.
const groundAge = 10 * time.Second

// groundPatience is how long a form waits for them where it knows older ones.
const groundPatience = 3 * time.Second

// knownGround remembers the ground for a while: the form then needs no
// database to be shown again while the database is away.
type knownGround struct {
	store       Ground
	ends        Ends // nil: no receipt says
	now         func() time.Time
	unavailable func(error) bool

	mu   sync.Mutex
	last *ground
	read time.Time
}

func (k *knownGround) get(ctx context.Context) (*ground, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.last != nil && k.now().Sub(k.read) < groundAge {
		return k.last, nil
	}
	if k.last != nil {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, groundPatience)
		defer cancel()
	}
	g, err := k.load(ctx)
	switch {
	case err == nil && len(g.counties) > 0:
		k.last, k.read = g, k.now()
	case err != nil && k.last != nil && k.unavailable(err):
		if errors.Is(err, context.DeadlineExceeded) {
			k.read = k.now() // not asked for with every form: each would wait
		}
		return k.last, nil
	}
	return g, err
}

func (k *knownGround) load(ctx context.Context) (*ground, error) {
	places, err := k.store.Places(ctx)
	if err != nil {
		return nil, err
	}
	seasons, err := k.store.Seasons(ctx)
	if err != nil {
		return nil, err
	}
	g := newGround(places, seasons)
	if k.ends == nil {
		return g, nil
	}
	// A form has to be taken, and its receipt to come, with the day or without. No
	// line in the log, whose clock would tell when a sample was sent in.
	if g.ends, err = k.ends.SeasonEnds(ctx); err != nil && k.last != nil {
		g.ends = k.last.ends
	}
	return g, nil
}
