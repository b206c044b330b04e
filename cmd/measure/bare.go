package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// answer is a page as it goes out.
type answer struct {
	Header http.Header
	Body   []byte
}

// startBare starts this program once more, as a server of net/http that writes
// the answers and does nothing else: a process of its own, as the others are.
func startBare(ctx context.Context, dir string, answers map[string]answer) (address string, stop func(), err error) {
	file := filepath.Join(dir, "answers.json")
	b, err := json.Marshal(answers)
	if err != nil {
		return "", nil, err
	}
	if err := os.WriteFile(file, b, 0o600); err != nil {
		return "", nil, err
	}
	self, err := os.Executable()
	if err != nil {
		return "", nil, err
	}
	cmd := exec.CommandContext(ctx, self, "-bare", file)
	out, err := cmd.StdoutPipe()
	if err != nil {
		return "", nil, err
	}
	if err := cmd.Start(); err != nil {
		return "", nil, err
	}
	stop = func() {
		cmd.Process.Kill() //nolint:errcheck // it holds nothing
		cmd.Wait()         //nolint:errcheck // as above
	}
	lines := bufio.NewScanner(out)
	if !lines.Scan() {
		stop()
		return "", nil, errors.New("the bare server did not start")
	}
	return strings.TrimSpace(lines.Text()), stop, nil
}

// serveBare is that server.
func serveBare(file string, out io.Writer) error {
	b, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	var answers map[string]answer
	if err := json.Unmarshal(b, &answers); err != nil {
		return err
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Fprintln(out, l.Addr())
	return http.Serve(l, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a, ok := answers[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		maps.Copy(w.Header(), a.Header)
		w.Write(a.Body) //nolint:errcheck // who asks sees it
	}))
}
