package main

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"sixmile/internal/sample"
)

// errNoMount: this machine does not let us mount a file system to fill.
var errNoMount = errors.New("a file system to fill could not be mounted")

// onFullDisk fills the file system under the data until nothing can be stored, and
// makes room again. It needs to mount one.
func (b *bench) onFullDisk(at string) (err error) {
	if err := os.Mkdir(at, 0o755); err != nil {
		return err
	}
	if err := asRoot("mount", "-t", "tmpfs", "-o", "size=360m,mode=755", "tmpfs", at); err != nil {
		return fmt.Errorf("%w: %w", errNoMount, err)
	}
	defer func() { err = errors.Join(err, asRoot("umount", at)) }()
	full := *b
	full.dir = filepath.Join(at, "data")
	if err := full.setUp(600, 0); err != nil {
		return err
	}
	s, err := full.serve()
	if err != nil {
		return err
	}
	return errors.Join(full.fillUp(s, filepath.Join(at, "ballast")), s.stop())
}

func asRoot(name string, args ...string) error {
	if os.Geteuid() != 0 {
		name, args = "sudo", append([]string{"-n", name}, args...)
	}
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		return fmt.Errorf("%w: %s", err, out)
	}
	return nil
}

func (b *bench) fillUp(s *server, ballast string) error {
	for _, path := range []string{"/", "/send"} {
		if err := s.wait(path, time.Minute); err != nil {
			return err
		}
	}
	if err := fill(ballast); err != nil {
		return err
	}
	w, c := b.crew(s), client()
	taken, refused, odd, last := 0, 0, 0, 0
	for i, code := range b.forms {
		last = i
		form := b.form(code, sample.Token{1, byte(i), byte(i >> 8)})
		status, body, err := b.post(b.ctx, c, s.url("/send"), form, false)
		switch {
		case err == nil && status == http.StatusOK:
			w.acked[code] = -1
			taken++
		case err == nil && status == http.StatusServiceUnavailable && contains(body, code):
			refused++
		default:
			odd++
			fmt.Fprintln(b.log, "a post got", status, err)
		}
		if refused+odd >= 25 {
			break
		}
	}
	res, err := c.Get(s.url("/"))
	if err != nil || res.StatusCode != http.StatusOK {
		odd++
	}
	if err == nil {
		res.Body.Close()
	}
	if err := os.Remove(ballast); err != nil {
		return err
	}
	from := time.Now()
	code := b.forms[last]
	if err := b.until200(s, b.form(code, sample.Token{1, byte(last), byte(last >> 8)})); err != nil {
		return err
	}
	w.acked[code] = -1
	lost, twice, err := w.look()
	if err != nil {
		return err
	}
	fmt.Fprintf(b.log, "disk full: %d forms taken before it was felt, %d answered 503 with the form kept, %d otherwise; taken again %.1f s after there was room\n",
		taken, refused, odd, time.Since(from).Seconds())
	b.put(never("answers on a full disk other than 503 with the form kept", odd, refused+odd))
	b.put(never("acknowledged forms lost or doubled over a full disk", lost+twice, len(w.acked)))
	return nil
}

// fill writes a file until there is no room for a byte.
func fill(name string) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	block := make([]byte, 1<<20)
	for size := len(block); size > 0; {
		if _, err := f.Write(block[:size]); err != nil {
			size /= 2
		}
	}
	return f.Close()
}
