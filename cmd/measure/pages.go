package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"
)

const (
	connections = 32
	rounds      = 5
	askFor      = 2 * time.Second // each round
)

// measurePages asks for a county's page and for its drawing over 32 connections
// that stay open, warm and compressed: of the program, of nginx serving the same
// answers, headers and all, and of a handler of net/http that does nothing but
// write them, which is as fast as a server on that library can be. The three take
// turns; the median round of each counts.
//
// What asks is this process. It costs the machine the same for each server, so on
// two cores it takes more from the faster one, and all ratios are nearer to one
// than they would be over a network.
func measurePages(ctx context.Context, put func(row), log io.Writer) error {
	return serving(ctx, log, func(s *site, p *process) error { return comparePages(ctx, put, log, s, p) }, "nginx")
}

func comparePages(ctx context.Context, put func(row), log io.Writer, s *site, p *process) error {
	answers := map[string]answer{}
	var paths []string
	for _, path := range []string{"/county/quillmere", "/county/quillmere/map.svg"} {
		body, head, err := fetch(p.base+path, "gzip")
		if err != nil {
			return err
		}
		if head.Get("Content-Encoding") != "gzip" {
			return fmt.Errorf("%s came without compression", path)
		}
		head.Del("Date")
		answers[path], paths = answer{head, body}, append(paths, path)
	}
	theirs, stop, err := nginx(ctx, log, s.dir, answers)
	if err != nil {
		return err
	}
	defer stop()
	bare, stopBare, err := startBare(ctx, s.dir, answers)
	if err != nil {
		return err
	}
	defer stopBare()
	for _, path := range paths {
		servers := []string{strings.TrimPrefix(p.base, "http://"), theirs, bare}
		rates := make([][]float64, len(servers))
		for range rounds {
			for i, at := range servers {
				rate, err := ask(at, path, len(answers[path].Body))
				if err != nil {
					return err
				}
				rates[i] = append(rates[i], rate)
			}
		}
		put(atLeast(path+" against nginx", "requests/s", middle(rates[0]), middle(rates[1]), 0.8))
		put(atLeast("the same bytes by net/http alone against nginx", "requests/s", middle(rates[2]), middle(rates[1]), 0.8))
		put(atLeast(path+" against net/http alone", "requests/s", middle(rates[0]), middle(rates[2]), 0.8))
	}
	return nil
}

// nginx serves the answers, compressed beforehand as ours are.
func nginx(ctx context.Context, log io.Writer, dir string, answers map[string]answer) (address string, stop func(), err error) {
	root := filepath.Join(dir, "nginx")
	var headers strings.Builder // all answers have the same
	for path, a := range answers {
		at := filepath.Join(root, "www", path+".html")
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			return "", nil, err
		}
		// gzip_static wants the plain file beside the packed one.
		if err := errors.Join(os.WriteFile(at, nil, 0o644), os.WriteFile(at+".gz", a.Body, 0o644)); err != nil {
			return "", nil, err
		}
		headers.Reset()
		for name, values := range a.Header {
			if strings.HasPrefix(name, "Content-") && name != "Content-Security-Policy" || name == "Etag" {
				continue // nginx has its own
			}
			for _, v := range values {
				fmt.Fprintf(&headers, "  add_header %s \"%s\";\n", name, v)
			}
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", nil, err
	}
	address = l.Addr().String()
	if err := l.Close(); err != nil {
		return "", nil, err
	}
	conf := fmt.Sprintf(`daemon off; worker_processes 2; pid %[1]s/pid; error_log %[1]s/error.log;
events { worker_connections 256; }
http { access_log off; sendfile on; tcp_nopush on; tcp_nodelay on; keepalive_requests 100000000; keepalive_timeout 120s;
  open_file_cache max=100 inactive=60s; types { text/html html; }
  client_body_temp_path %[1]s/b; proxy_temp_path %[1]s/p; fastcgi_temp_path %[1]s/f; uwsgi_temp_path %[1]s/u; scgi_temp_path %[1]s/s;
%[3]s
  server { listen %[2]s; root %[1]s/www; location / { gzip_static always; etag on; try_files $uri.html =404; } } }
`, root, address, headers.String())
	if err := os.WriteFile(filepath.Join(root, "conf"), []byte(conf), 0o644); err != nil {
		return "", nil, err
	}
	cmd := exec.CommandContext(ctx, "/usr/sbin/nginx", "-c", filepath.Join(root, "conf"), "-p", root)
	cmd.Stdout, cmd.Stderr = log, log
	if err := cmd.Start(); err != nil {
		return "", nil, err
	}
	stop = func() {
		cmd.Process.Signal(os.Interrupt) //nolint:errcheck // it is thrown away with its folder
		cmd.Wait()                       //nolint:errcheck // as above
	}
	for range 100 {
		if c, err := net.Dial("tcp", address); err == nil {
			return address, stop, c.Close()
		}
		time.Sleep(20 * time.Millisecond)
	}
	stop()
	return "", nil, errors.New("nginx did not start")
}

// ask counts answers a second over all connections, each checked for its length.
func ask(address, path string, length int) (rate float64, err error) {
	return askOver(connections, address, path, length)
}

func askOver(connections int, address, path string, length int) (rate float64, err error) {
	var wg sync.WaitGroup
	counts, errs := make([]int, connections), make([]error, connections)
	until := time.Now().Add(askFor)
	for i := range connections {
		wg.Go(func() { counts[i], errs[i] = askOne(address, path, length, until) })
	}
	start := time.Now()
	wg.Wait()
	n := 0
	for _, c := range counts {
		n += c
	}
	return float64(n) / time.Since(start).Seconds(), errors.Join(errs...)
}

// askOne asks over one connection. It reads no more of an answer than it has to,
// so that what is measured is the server.
func askOne(address, path string, length int, until time.Time) (n int, err error) {
	c, err := net.Dial("tcp", address)
	if err != nil {
		return 0, err
	}
	defer c.Close()
	question := fmt.Appendf(nil, "GET %s HTTP/1.1\r\nHost: %s\r\nAccept-Encoding: gzip\r\nAccept-Language: en\r\n\r\n", path, address)
	in := bufio.NewReaderSize(c, 1<<16)
	for ; time.Now().Before(until); n++ {
		if _, err := c.Write(question); err != nil {
			return n, err
		}
		got, err := skipAnswer(in)
		if err != nil {
			return n, err
		}
		if got != length {
			return n, fmt.Errorf("%s: %d bytes instead of %d", path, got, length)
		}
	}
	return n, nil
}

// skipAnswer reads one answer and says how long its body was.
func skipAnswer(in *bufio.Reader) (length int, err error) {
	length = -1
	for first := true; ; first = false {
		line, err := in.ReadSlice('\n')
		if err != nil {
			return 0, err
		}
		if first && !bytes.Contains(line, []byte(" 200 ")) {
			return 0, fmt.Errorf("answer %q", line)
		}
		if len(line) <= 2 {
			break
		}
		if name, value, ok := bytes.Cut(line, []byte(":")); ok && strings.EqualFold(string(name), "Content-Length") {
			if length, err = strconv.Atoi(strings.TrimSpace(string(value))); err != nil {
				return 0, err
			}
		}
	}
	if length < 0 {
		return 0, errors.New("an answer without its length")
	}
	_, err = in.Discard(length)
	return length, err
}
