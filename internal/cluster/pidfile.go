package cluster

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// pidFile is what a running server says about itself in postmaster.pid
// (PostgreSQL source, src/include/utils/pidfile.h: pid, data folder, start
// time, port, socket folder, listen address, shared memory key, status).
type pidFile struct {
	PID    int
	Port   int
	Socket string
	Ready  bool // takes connections
}

var errPIDFile = errors.New("postmaster.pid is not complete")

// readPIDFile reads the pid file of a data folder. A server writes it line by
// line while it starts, so an incomplete one is normal for a moment.
func readPIDFile(data string) (pidFile, error) {
	b, err := os.ReadFile(filepath.Join(data, "postmaster.pid"))
	if err != nil {
		return pidFile{}, err
	}
	return parsePIDFile(b)
}

func parsePIDFile(b []byte) (pidFile, error) {
	lines := strings.Split(string(bytes.TrimRight(b, "\n")), "\n")
	if len(lines) < 5 {
		return pidFile{}, errPIDFile
	}
	pid, err := strconv.Atoi(strings.TrimSpace(lines[0]))
	if err != nil || pid <= 0 {
		return pidFile{}, fmt.Errorf("%w: no process number", errPIDFile)
	}
	port, err := strconv.Atoi(strings.TrimSpace(lines[3]))
	if err != nil || port < 1 || port > 65535 {
		return pidFile{}, fmt.Errorf("%w: no port", errPIDFile)
	}
	p := pidFile{PID: pid, Port: port, Socket: strings.TrimSpace(lines[4])}
	p.Ready = len(lines) >= 8 && strings.TrimSpace(lines[7]) == "ready"
	return p, nil
}
