package office

import (
	"sync"
	"time"

	"github.com/hashicorp/golang-lru/v2/simplelru"
)

// How much guessing is slowed. The numbers are ours: the longest wait is short
// enough for a person who mistypes, and a try every four seconds is 21,600 a
// day, nothing against ten characters.
const (
	freeTries   = 3
	firstGap    = time.Second
	longestGap  = 4 * time.Second
	longestWait = 8 * time.Second
	// Codes of a second step have six digits, three of which are right at any
	// moment: one try a minute is 1,440 a day, right once in eight months. Whoever
	// makes them knows the password already.
	longestCodeGap = time.Minute
	// Links by mail: somebody who got one a minute ago has it.
	longestAskGap = 10 * time.Minute
	quietSpell    = 15 * time.Minute // after which tries are forgotten
	maxNames      = 4096
)

// gate slows down tries at one login name, whether or not anybody has that
// name. It never locks anybody out and knows nothing of who asks: an address
// would be personal, and a whole office shares one. It remembers a bounded
// number of names, in memory only. Whoever floods it with names to make it
// forget one gains three tries for four thousand requests.
type gate struct {
	mu    sync.Mutex
	names *simplelru.LRU[string, turn]
	most  time.Duration // between two tries
}

// turn is what is known of the tries at one name.
type turn struct {
	tries int
	next  time.Time // before it the next try is not looked at
}

func newGate(most time.Duration) *gate {
	names, err := simplelru.NewLRU[string, turn](maxNames, nil)
	if err != nil {
		panic(err) // only a size under one is refused
	}
	return &gate{names: names, most: most}
}

// book takes a turn for a try at a name and says how long it has to wait for
// it. Turns come one after the other, so that many tries at once wait for each
// other; false when the wait would be too long to hold a browser for.
func (g *gate) book(name string, now time.Time) (wait time.Duration, ok bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	t, known := g.names.Get(name)
	if !known || now.Sub(t.next) > quietSpell {
		t = turn{next: now}
	}
	wait = max(0, t.next.Sub(now))
	if wait > longestWait {
		return 0, false
	}
	t.tries++
	t.next = now.Add(wait + g.gap(t.tries))
	g.names.Add(name, t)
	return wait, true
}

// gap is how long after so many tries the next one has to wait.
func (g *gate) gap(tries int) time.Duration {
	if tries < freeTries {
		return 0
	}
	return min(firstGap<<min(tries-freeTries, 10), g.most)
}

// forget forgives a name whose owner has signed in.
func (g *gate) forget(name string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.names.Remove(name)
}
