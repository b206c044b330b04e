package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"sixmile/internal/sample"
)

// kills ends the program, the database's main process or one of its others with
// kill -9, in turn, at random moments under writers that go through two instances.
func (b *bench) kills() error {
	one, err := b.serve()
	if err != nil {
		return err
	}
	two, err := b.serve()
	if err != nil {
		return errors.Join(err, one.kill())
	}
	ctx, cancel := context.WithCancel(b.ctx)
	w := b.crew(one, two)
	done := make(chan struct{})
	go func() {
		w.work(ctx, b.doses.writers)
		close(done)
	}()
	began := time.Now()
	at := rand.New(rand.NewPCG(uint64(began.UnixNano()), 1))
	var programs, databases int
	for i := range b.doses.kills {
		if err = w.progress(ctx, 5); err != nil {
			break
		}
		time.Sleep(time.Duration(at.IntN(150)) * time.Millisecond)
		switch i % 3 {
		case 0:
			s := []*server{one, two}[i/3%2]
			if err = s.kill(); err == nil {
				err = s.start()
			}
			programs++
		default:
			err = b.killDatabase(i%3 == 1, at)
			databases++
		}
		if err != nil {
			err = fmt.Errorf("kill %d: %w", i+1, err)
			break
		}
	}
	if err == nil {
		err = w.progress(ctx, 20)
	}
	took := time.Since(began)
	cancel()
	<-done
	if err := errors.Join(err, one.stop(), two.stop()); err != nil {
		return err
	}
	lost, twice, err := w.look()
	if err != nil {
		return err
	}
	fmt.Fprintf(b.log, "%d kills of the program and %d of the database in %.0f s under %d writers on two instances: %d writes acknowledged, "+
		"%d sent again after that, %d answered 503, %d connections broken; strange: %v\n",
		programs, databases, took.Seconds(), b.doses.writers, w.done.Load()-w.repeated.Load(), w.repeated.Load(), w.refused.Load(), w.broken.Load(), w.odd)
	b.put(never(fmt.Sprintf("acknowledged writes lost, %d kills", programs+databases), lost, len(w.acked)))
	b.put(never("acknowledged writes stored twice", twice, len(w.acked)))
	b.put(never("answers other than 200 and 503, and forms not kept", len(w.odd), int(w.done.Load()+w.refused.Load())))
	return nil
}

// progress waits until so many more writes were acknowledged.
func (w *crew) progress(ctx context.Context, more int64) error {
	want := w.done.Load() + more
	for deadline := time.Now().Add(2 * time.Minute); w.done.Load() < want; time.Sleep(10 * time.Millisecond) {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("nothing is acknowledged any more; %s", w.servers[0].out.String())
		}
	}
	return nil
}

func (b *bench) killDatabase(whole bool, at *rand.Rand) error {
	pid, err := b.postmaster()
	if err != nil {
		return err
	}
	if others := b.databaseProcesses(); !whole && len(others) > 0 {
		pid = others[at.IntN(len(others))]
	}
	if err := syscall.Kill(pid, syscall.SIGKILL); err != nil && !errors.Is(err, syscall.ESRCH) {
		return err
	}
	return nil
}

// paused stops the database for a while: it takes connections and answers none.
func (b *bench) paused() error {
	s, err := b.serve()
	if err != nil {
		return err
	}
	c := client()
	for _, path := range []string{"/", "/county/amber", "/send"} { // somebody was here before
		if err := s.wait(path, time.Minute); err != nil {
			return err
		}
	}
	if err := b.signalDatabase(syscall.SIGSTOP); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(b.ctx, b.doses.pause)
	defer cancel()
	var pages, wrong, posts, unkept atomic.Int64
	var slowest atomic.Int64
	work := make(chan struct{})
	go func() {
		defer close(work)
		for ctx.Err() == nil {
			from := time.Now()
			res, err := c.Get(s.url([]string{"/", "/county/amber"}[pages.Load()%2]))
			if err != nil || res.StatusCode != http.StatusOK {
				wrong.Add(1)
			}
			if err == nil {
				io.Copy(io.Discard, res.Body) //nolint:errcheck // its status is what counts
				res.Body.Close()
			}
			pages.Add(1)
			slowest.Store(max(slowest.Load(), time.Since(from).Milliseconds()))
			time.Sleep(100 * time.Millisecond)
		}
	}()
	code, token := b.forms[len(b.forms)-1], sample.Token{9, 9, 9}
	form := b.form(code, token)
	for ctx.Err() == nil || posts.Load() == 0 {
		status, body, err := b.post(b.ctx, c, s.url("/send"), form, false)
		posts.Add(1)
		if err != nil || status != http.StatusServiceUnavailable || !strings.Contains(body, string(code)) && !strings.Contains(body, code.String()) {
			unkept.Add(1)
			fmt.Fprintln(b.log, "a post got", status, err)
		}
	}
	<-work
	if err := b.signalDatabase(syscall.SIGCONT); err != nil {
		return err
	}
	from := time.Now()
	if err := b.until200(s, form); err != nil {
		return err
	}
	fmt.Fprintf(b.log, "database stopped for %s: %d pages of maps asked for, the slowest took %d ms; %d forms sent; taken %.1f s after it went on\n",
		b.doses.pause, pages.Load(), slowest.Load(), posts.Load(), time.Since(from).Seconds())
	b.put(never("map pages not answered while the database stands still", int(wrong.Load()), int(pages.Load())))
	b.put(never("forms not answered 503 with all that was typed", int(unkept.Load()), int(posts.Load())))
	return s.stop()
}

// until200 sends a form until it is taken.
func (b *bench) until200(s *server, form map[string][]string) error {
	c := client()
	for deadline := time.Now().Add(90 * time.Second); time.Now().Before(deadline); time.Sleep(200 * time.Millisecond) {
		if status, _, err := b.post(b.ctx, c, s.url("/send"), form, false); err == nil && status == http.StatusOK {
			return nil
		}
	}
	return fmt.Errorf("the form is not taken again: %s", s.out.String())
}
