package web

import (
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Meter counts answers for whoever looks after the server, in the text format
// that Prometheus reads.
//
// What is scraped every few seconds is a clock, so a series must not tell when
// somebody sent in a bag: labels are the registered route and how it went. The
// method is not among them, so that a form looked at and a form sent are one
// thing, and neither is the exact status, which would tell them apart again. On
// routes that are hushed even that would tell, by how long it took: their numbers
// come out once a day, for the day before, and those of a day on which the server
// is stopped never. Only what failed is told at once: it stored nothing.
type Meter struct {
	held     held
	registry *prometheus.Registry
	answers  *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
}

// Pool is how a pool of connections stands.
type Pool struct{ InUse, Idle, Most int32 }

// NewMeter makes a meter. pools are looked at when it is read; their names are
// ours. today is the calendar date.
func NewMeter(version string, today func() time.Time, pools map[string]func() Pool) *Meter {
	m := &Meter{
		held:     held{today: today, day: today()},
		registry: prometheus.NewRegistry(),
		answers: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "sixmile_answers_total", Help: "Requests answered, by registered route and how it went: ok, refused (4xx) or failed (5xx).",
		}, []string{"route", "went"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "sixmile_answer_seconds", Help: "Time to answer, by registered route.",
			Buckets: []float64{.002, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 10, 30},
		}, []string{"route"}),
	}
	about := prometheus.NewGauge(prometheus.GaugeOpts{
		Name: "sixmile_build_info", Help: "Always 1.", ConstLabels: prometheus.Labels{"version": version},
	})
	about.Set(1)
	m.registry.MustRegister(m.answers, m.seconds, about, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	for name, stand := range pools {
		for what, of := range map[string]func(Pool) int32{
			"in_use": func(p Pool) int32 { return p.InUse }, "idle": func(p Pool) int32 { return p.Idle }, "most": func(p Pool) int32 { return p.Most },
		} {
			m.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{
				Name: "sixmile_connections", Help: "Connections to the database.", ConstLabels: prometheus.Labels{"pool": name, "state": what},
			}, func() float64 { return float64(of(stand())) }))
		}
	}
	return m
}

// Gauge adds a number of the program's own that tells nothing of anybody.
func (m *Meter) Gauge(name, help string, value func() float64) {
	m.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "sixmile_" + name, Help: help}, value))
}

// Watch counts an answer: it is an Options.Watch.
func (m *Meter) Watch(route string, status int, took time.Duration, hushed bool) {
	if hushed && status < 500 {
		m.held.add(m, seen{route, went(status)}, took)
		return
	}
	m.answers.WithLabelValues(route, went(status)).Inc()
	m.seconds.WithLabelValues(route).Observe(took.Seconds())
}

func went(status int) string {
	switch {
	case status >= 500:
		return "failed"
	case status >= 400:
		return "refused"
	}
	return "ok"
}

// Handler serves the numbers. It belongs on an address that only the machine
// itself can reach.
func (m *Meter) Handler() http.Handler {
	mux := http.NewServeMux()
	numbers := promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{})
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		m.held.turn(m)
		numbers.ServeHTTP(w, r)
	})
	return mux
}
