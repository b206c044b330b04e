package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/cluster"
	"sixmile/internal/postgres/yardstick"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// form is a grower's form, filled in.
func (b *bench) form(code bag.Code, token sample.Token) url.Values {
	t := b.townships[int(token[0])%len(b.townships)]
	return url.Values{
		"token": {token.String()}, "do": {"send"}, "standing.0": {"first"}, "bag.0.grower": {"0"}, "bag.0.code": {string(code)},
		"bag.0.county": {strconv.Itoa(int(t.County))}, "bag.0.township": {strconv.Itoa(int(t.ID))},
		"bag.0.day": {b.today.Format(time.DateOnly)}, "bag.0.crop": {"soybean"},
	}
}

// count is a technician's count.
func count(code bag.Code, eggs int) url.Values {
	m := assay.DefaultMethod()
	key := m.Name + "." + strconv.Itoa(m.Version)
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return url.Values{
		"code": {string(code)}, "method": {key}, "as": {key}, "soil": {number(m.SoilCM3)}, "water": {number(m.SuspensionML)},
		"ml1": {number(m.AliquotML)}, "eggs1": {strconv.Itoa(eggs)}, "replaces": {""}, "do": {"save"},
	}
}

// post sends a form, as a technician's where there is a session.
func (b *bench) post(ctx context.Context, c *http.Client, to string, in url.Values, office bool) (status int, body string, err error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, to, strings.NewReader(in.Encode()))
	if err != nil {
		return 0, "", err
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if office {
		req.AddCookie(&http.Cookie{Name: shell.SessionCookie, Value: b.token.String()})
	}
	res, err := c.Do(req)
	if err != nil {
		return 0, "", err
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	return res.StatusCode, string(text), err
}

// crew is eight people at work: six growers and two technicians. Each repeats what
// was not acknowledged until it is, as a browser's button does, and now and then what
// was.
type crew struct {
	bench   *bench
	servers []*server
	forms   chan bag.Code
	counts  chan bag.Code

	mu    sync.Mutex
	acked map[bag.Code]int // eggs of a count, -1 for a form
	odd   []string         // answers that nobody should get

	done, repeated, refused, broken atomic.Int64
}

func (b *bench) crew(servers ...*server) *crew {
	w := &crew{bench: b, servers: servers, acked: map[bag.Code]int{}, forms: make(chan bag.Code, len(b.forms)), counts: make(chan bag.Code, len(b.counts))}
	for _, code := range b.forms {
		w.forms <- code
	}
	for _, code := range b.counts {
		w.counts <- code
	}
	return w
}

// work runs until ctx ends or there is nothing left to do.
func (w *crew) work(ctx context.Context, writers int) {
	var all sync.WaitGroup
	for i := range writers {
		office := i%4 == 3
		all.Go(func() {
			c, pick := client(), rand.New(rand.NewPCG(uint64(i), 7))
			from := w.forms
			if office {
				from = w.counts
			}
			for ctx.Err() == nil {
				select {
				case code := <-from:
					w.one(ctx, c, pick, code, office)
				default:
					return
				}
			}
		})
	}
	all.Wait()
}

func (w *crew) one(ctx context.Context, c *http.Client, pick *rand.Rand, code bag.Code, office bool) {
	eggs := -1
	to, in := "/send", url.Values(nil)
	if office {
		eggs = pick.IntN(400)
		to, in = "/office/count", count(code, eggs)
	} else {
		var t sample.Token
		for i := range t {
			t[i] = byte(pick.Uint32())
		}
		in = w.bench.form(code, t)
	}
	again := pick.IntN(4) == 0
	for ctx.Err() == nil {
		// Either of the two instances, as a proxy would.
		s := w.servers[pick.IntN(len(w.servers))]
		status, body, err := w.bench.post(ctx, c, s.url(to), in, office)
		switch {
		case err != nil:
			w.broken.Add(1)
		case status == http.StatusOK:
			w.mu.Lock()
			w.acked[code] = eggs
			w.mu.Unlock()
			w.done.Add(1)
			if !again {
				return
			}
			again = false
			w.repeated.Add(1)
			continue
		case status == http.StatusServiceUnavailable:
			w.refused.Add(1)
			if !office && !strings.Contains(body, string(code)) && !strings.Contains(body, code.String()) {
				w.strange("a form that was not taken was not kept")
			}
		default:
			w.strange(fmt.Sprintf("%s answered %d", to, status))
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(50 * time.Millisecond):
		}
	}
}

func (w *crew) strange(what string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.odd = append(w.odd, what)
}

// look compares what was acknowledged with what is there: lost, and stored twice.
func (w *crew) look() (lost, twice int, err error) {
	b := w.bench
	c, err := cluster.Open(b.ctx, cluster.Options{Dir: b.dir})
	if err != nil {
		return 0, 0, err
	}
	defer c.Stop() //nolint:errcheck // looked at already
	w.mu.Lock()
	defer w.mu.Unlock()
	var codes []bag.Code
	for code := range w.acked {
		codes = append(codes, code)
	}
	all, err := yardstick.Of(b.ctx, c.DSN("sixmile", ""), codes)
	if err != nil {
		return 0, 0, err
	}
	lost = len(codes) - len(all)
	for _, s := range all {
		eggs := w.acked[s.Code]
		switch {
		case s.Samples == 0, eggs >= 0 && (s.Results == 0 || s.Eggs != eggs):
			lost++
		case s.Samples > 1, eggs >= 0 && s.Results > 1:
			twice++
		}
	}
	return lost, twice, nil
}
