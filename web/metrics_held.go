package web

import (
	"sync"
	"time"
)

// mostHeld bounds how many times to answer are kept of a day; counts are exact.
const mostHeld = 100_000

// held keeps a day's numbers of routes that are hushed until the day is over.
type held struct {
	mu     sync.Mutex
	today  func() time.Time
	day    time.Time
	counts map[seen]int
	took   map[string][]time.Duration // by route
	kept   int
}

// seen is what a counter tells apart.
type seen struct{ route, went string }

func (h *held) add(m *Meter, s seen, took time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.publish(m)
	if h.counts == nil {
		h.counts, h.took = map[seen]int{}, map[string][]time.Duration{}
	}
	h.counts[s]++
	if h.kept < mostHeld {
		h.took[s.route] = append(h.took[s.route], took)
		h.kept++
	}
}

// turn publishes what is of a day that is over.
func (h *held) turn(m *Meter) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.publish(m)
}

func (h *held) publish(m *Meter) {
	today := h.today()
	if today.Equal(h.day) {
		return
	}
	for s, n := range h.counts {
		m.answers.WithLabelValues(s.route, s.went).Add(float64(n))
	}
	for route, list := range h.took {
		for _, d := range list {
			m.seconds.WithLabelValues(route).Observe(d.Seconds())
		}
	}
	h.day, h.counts, h.took, h.kept = today, nil, nil, 0
}
