package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// serving starts the built program on the demo, for a measurement that needs the
// given tools beside it.
func serving(ctx context.Context, log io.Writer, f func(*site, *process) error, needs ...string) (err error) {
	for _, need := range needs {
		if _, err := exec.LookPath(need); err != nil && !onPath(need) {
			return fmt.Errorf("%s is missing; on Debian: apt-get install --no-install-recommends nginx-light postgresql-contrib chromium", need)
		}
	}
	site, err := newSite(ctx, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, site.close()) }()
	p, _, err := site.start(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.stop()) }()
	return f(site, p)
}

// measureServed starts the program and asks for a first page, and for a page in a
// browser.
func measureServed(ctx context.Context, put func(row), log io.Writer) (err error) {
	return serving(ctx, log, func(site *site, p *process) error {
		time.Sleep(3 * time.Second)
		idle, err := p.memory()
		if err != nil {
			return err
		}
		var starts []float64
		for range 5 {
			p, took, err := site.start(ctx)
			if err != nil {
				return err
			}
			starts = append(starts, took)
			if err := p.stop(); err != nil {
				return err
			}
		}
		put(within("start to first page", "s", middle(starts), 0.5))
		put(within("idle memory of serve, one page asked for", "MB", idle, 60))
		return measureBrowser(ctx, put, p.base)
	}, "chromium")
}

func onPath(name string) bool {
	for _, dir := range []string{"/usr/sbin", "/sbin"} {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			return true
		}
	}
	return false
}

// tool runs a command whose output goes to the log.
func tool(ctx context.Context, log io.Writer, name string, args ...string) error {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Stdout, cmd.Stderr = log, log
	return cmd.Run()
}

// process is the program while it serves.
type process struct {
	cmd  *exec.Cmd
	base string
}

// start begins to serve and says after how many seconds the first page had come
// whole.
func (s *site) start(ctx context.Context) (*process, float64, error) { return s.startAt(ctx, "/") }

// startAt is start for another first page, and with more flags.
func (s *site) startAt(ctx context.Context, first string, flags ...string) (*process, float64, error) {
	cmd := exec.CommandContext(ctx, s.bin, append([]string{"serve", "--url", s.logins.Admin, "--listen", "127.0.0.1:0"}, flags...)...)
	cmd.Stderr = s.log
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, 0, err
	}
	begin := time.Now()
	if err := cmd.Start(); err != nil {
		return nil, 0, err
	}
	p := &process{cmd: cmd}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if _, at, ok := strings.Cut(lines.Text(), "http://"); ok {
			p.base = "http://" + strings.TrimRight(at, "/")
			break
		}
	}
	if p.base == "" {
		return nil, 0, errors.Join(errors.New("the program did not serve"), p.stop())
	}
	go io.Copy(io.Discard, out) //nolint:errcheck // nobody reads it
	if _, _, err := fetch(p.base+first, ""); err != nil {
		return nil, 0, errors.Join(err, p.stop())
	}
	return p, time.Since(begin).Seconds(), nil
}

func (p *process) stop() error {
	if err := p.cmd.Process.Signal(syscall.SIGINT); err != nil {
		return err
	}
	return p.cmd.Wait()
}

// memory is what the process holds, in millions of bytes.
func (p *process) memory() (float64, error) {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(b)) {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			kb, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			return kb * 1024 / 1e6, err
		}
	}
	return 0, errors.New("no VmRSS")
}

// fetch gets an address whole, by itself.
func fetch(address, coding string) (body []byte, head http.Header, err error) {
	req, err := http.NewRequest(http.MethodGet, address, nil)
	if err != nil {
		return nil, nil, err
	}
	if coding != "" {
		req.Header.Set("Accept-Encoding", coding)
	}
	res, err := (&http.Client{Timeout: 4 * time.Minute}).Do(req)
	if err != nil {
		return nil, nil, err
	}
	defer res.Body.Close()
	if body, err = io.ReadAll(res.Body); err == nil && res.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s: %s", address, res.Status)
	}
	return body, res.Header, err
}
