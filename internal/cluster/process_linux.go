package cluster

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// identity is the user a cluster runs as. Drop is true when that is not the
// user we are, which only root can do.
type identity struct {
	uid, gid int
	drop     bool
}

// unprivileged picks whom to run as: ourselves, or for root the first of
// postgres and nobody that exists. PostgreSQL refuses to run as root.
func unprivileged() (identity, error) {
	if os.Geteuid() != 0 {
		return identity{uid: os.Geteuid(), gid: os.Getegid()}, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, uerr := strconv.Atoi(u.Uid)
		gid, gerr := strconv.Atoi(u.Gid)
		if err := errors.Join(uerr, gerr); err != nil {
			return identity{}, fmt.Errorf("cluster: user %s: %w", name, err)
		}
		return identity{uid: uid, gid: gid, drop: true}, nil
	}
	return identity{}, errors.New("a database must not run as root, and this machine has neither a user postgres nor a user nobody to run it as")
}

// command prepares one of the server's programs, in a process group of its own
// so that Ctrl-C reaches us and not the server under us, with an environment
// that holds nothing of ours, and to be ended by the kernel when we die.
func command(bin, name string, who identity, args ...string) *exec.Cmd {
	c := exec.Command(filepath.Join(bin, name), args...)
	c.Dir = "/" // the other user may not be able to enter ours
	c.Env = []string{"PATH=" + bin + ":/usr/bin:/bin", "LC_ALL=C.UTF-8", "TZ=UTC", "HOME=/nonexistent"}
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGINT}
	if who.drop {
		c.SysProcAttr.Credential = &syscall.Credential{Uid: uint32(who.uid), Gid: uint32(who.gid)}
	}
	return c
}

// process is a running command.
type process struct {
	cmd  *exec.Cmd
	gone chan struct{} // closed when it has ended
	err  error         // how; read it after gone
}

// launch starts a command. The kernel sends the death signal when the thread
// that started the child ends, not the process, so that thread is kept until
// the child has gone.
func launch(cmd *exec.Cmd) (*process, error) {
	p := &process{cmd: cmd, gone: make(chan struct{})}
	started := make(chan error)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			p.err = cmd.Wait()
			close(p.gone)
		}
	}()
	return p, <-started
}

// running reports whether the process has not ended.
func (p *process) running() bool {
	select {
	case <-p.gone:
		return false
	default:
		return true
	}
}

// end asks with one signal after another, giving each its time, until the
// process has gone.
func (p *process) end(steps ...ending) error {
	for _, s := range steps {
		if err := p.cmd.Process.Signal(s.signal); err != nil && !errors.Is(err, os.ErrProcessDone) {
			return err
		}
		select {
		case <-p.gone:
			return nil
		case <-time.After(s.patience):
		}
	}
	return fmt.Errorf("cluster: process %d does not end", p.cmd.Process.Pid)
}

type ending struct {
	signal   syscall.Signal
	patience time.Duration
}

// To PostgreSQL SIGINT is a clean shutdown that does not wait for clients, and
// SIGQUIT one that leaves recovery to the next start. No data is lost by
// either, nor by SIGKILL.
var (
	cleanEnding = []ending{
		{syscall.SIGINT, time.Minute}, {syscall.SIGQUIT, 10 * time.Second}, {syscall.SIGKILL, 5 * time.Second},
	}
	quickEnding = []ending{
		{syscall.SIGQUIT, 5 * time.Second}, {syscall.SIGKILL, 5 * time.Second},
	}
)

// serversIn lists the server processes, main process and its children alike,
// whose current folder is the data folder (PostgreSQL changes into it) or the
// one beside it in which new data is made.
func serversIn(data string) []int {
	entries, err := os.ReadDir("/proc")
	if err != nil {
		return nil
	}
	var pids []int
	for _, e := range entries {
		pid, err := strconv.Atoi(e.Name())
		if err != nil {
			continue
		}
		// Both links are unreadable for a process that has just gone or
		// is another user's, whose folder it then is not.
		cwd, err := os.Readlink(filepath.Join("/proc", e.Name(), "cwd"))
		cwd = strings.TrimSuffix(cwd, " (deleted)")
		if err != nil || cwd != data && cwd != data+freshSuffix {
			continue
		}
		exe, err := os.Readlink(filepath.Join("/proc", e.Name(), "exe"))
		if err != nil || !strings.HasPrefix(filepath.Base(exe), "postgres") {
			continue
		}
		pids = append(pids, pid)
	}
	return pids
}

// clearServers waits until no server process is left in the data folder. It is
// called with the lock held, so what still runs there has lost the process
// that started it: it is shutting down already, and is ended if it is not.
func clearServers(ctx context.Context, data string) error {
	steps := []ending{
		{0, 5 * time.Second}, // mostly it is on its way out already
		{syscall.SIGINT, 30 * time.Second},
		{syscall.SIGQUIT, 10 * time.Second},
		{syscall.SIGKILL, 5 * time.Second},
	}
	for _, s := range steps {
		for _, pid := range serversIn(data) {
			if err := syscall.Kill(pid, s.signal); err != nil && !errors.Is(err, syscall.ESRCH) {
				return fmt.Errorf("cluster: end old server process %d: %w", pid, err)
			}
		}
		for end := time.Now().Add(s.patience); time.Now().Before(end); {
			if len(serversIn(data)) == 0 {
				return nil
			}
			if !pause(ctx, 20*time.Millisecond) {
				return ctx.Err()
			}
		}
	}
	return fmt.Errorf("cluster: old server processes %v do not end", serversIn(data))
}
