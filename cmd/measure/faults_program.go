package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// server is the program in a process of its own, on an address that it keeps.
type server struct {
	bench *bench
	at    string

	mu  sync.Mutex
	cmd *exec.Cmd
	out tail
}

// tail keeps the end of what a process says, and the first failures it logs.
type tail struct {
	mu       sync.Mutex
	text     []byte
	failures []string
}

// Write makes it an io.Writer.
func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, p...)
	t.text = t.text[max(0, len(t.text)-1500):]
	if bytes.Contains(p, []byte("level=ERROR")) && len(t.failures) < 10 {
		t.failures = append(t.failures, string(p))
	}
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.text)
}

// tellFailures writes what went wrong inside the program.
func (s *server) tellFailures() {
	s.out.mu.Lock()
	defer s.out.mu.Unlock()
	for _, f := range s.out.failures {
		fmt.Fprintf(s.bench.log, "  logged: %.600s\n", f)
	}
}

// serve starts the program and waits until it answers.
func (b *bench) serve() (*server, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	at := l.Addr().String()
	if err := l.Close(); err != nil {
		return nil, err
	}
	s := &server{bench: b, at: at}
	return s, s.start()
}

func (s *server) start() error {
	cmd := exec.Command(s.bench.program, "serve", "--data", s.bench.dir, "--listen", s.at)
	cmd.Env = append(os.Environ(), "DATABASE_URL=")
	cmd.Stdout, cmd.Stderr = &s.out, &s.out
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := cmd.Start(); err != nil {
		return err
	}
	s.mu.Lock()
	s.cmd = cmd
	s.mu.Unlock()
	return s.wait("/livez", time.Minute)
}

// wait asks until the answer is 200.
func (s *server) wait(path string, most time.Duration) error {
	ctx, cancel := context.WithTimeout(s.bench.ctx, most)
	defer cancel()
	c := &http.Client{Timeout: 3 * time.Second}
	for {
		res, err := c.Get(s.url(path))
		if err == nil {
			res.Body.Close()
			if res.StatusCode == http.StatusOK {
				return nil
			}
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("the program on %s does not get ready: %w\n%s", s.at, ctx.Err(), s.out.String())
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (s *server) url(path string) string { return "http://" + s.at + path }

// kill is kill -9, and waits until the process is gone.
func (s *server) kill() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.cmd.Process.Kill(); err != nil {
		return err
	}
	s.cmd.Wait() //nolint:errcheck // it was killed
	return nil
}

// stop asks it to end, as a service manager does, and says whether it ended well.
func (s *server) stop() error {
	s.tellFailures()
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	if err := s.cmd.Wait(); err != nil {
		return fmt.Errorf("it did not stop well: %w\n%s", err, s.out.String())
	}
	return nil
}

// postmaster is the number of the database's main process.
func (b *bench) postmaster() (int, error) {
	text, err := os.ReadFile(filepath.Join(b.dir, "postgres", "postmaster.pid"))
	if err != nil {
		return 0, err
	}
	first, _, _ := strings.Cut(string(text), "\n")
	return strconv.Atoi(strings.TrimSpace(first))
}

// databaseProcesses lists every process of the bench's database: those that work in
// its folder.
func (b *bench) databaseProcesses() []int {
	data, err := filepath.EvalSymlinks(filepath.Join(b.dir, "postgres"))
	if err != nil {
		return nil
	}
	cwds, err := filepath.Glob("/proc/[0-9]*/cwd")
	if err != nil {
		return nil
	}
	var out []int
	for _, cwd := range cwds {
		if to, err := os.Readlink(cwd); err == nil && to == data {
			if pid, err := strconv.Atoi(filepath.Base(filepath.Dir(cwd))); err == nil {
				out = append(out, pid)
			}
		}
	}
	return out
}

// signalDatabase sends every process of the database a signal.
func (b *bench) signalDatabase(sig syscall.Signal) error {
	pids := b.databaseProcesses()
	if len(pids) == 0 {
		return errors.New("the database has no processes")
	}
	for _, pid := range pids {
		if err := syscall.Kill(pid, sig); err != nil && !errors.Is(err, syscall.ESRCH) {
			return err
		}
	}
	return nil
}
