package main

import (
	"bytes"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// lockedBuffer is what a running command has printed so far.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

var served = regexp.MustCompile(`http://127\.0\.0\.1:\d+/`)

// address waits until the command says where it serves.
func (l *lockedBuffer) address(t *testing.T) string {
	t.Helper()
	for deadline := time.Now().Add(90 * time.Second); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		if a := served.FindString(l.String()); a != "" {
			return strings.TrimSuffix(a, "/")
		}
	}
	t.Fatalf("it never served:\n%s", l.String())
	return ""
}
