package cluster

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

const (
	startPatience = 2 * time.Minute        // recovery after a power cut can take a while
	joinPoll      = 500 * time.Millisecond // how soon a joined process notices that the starter has gone
	restartPause  = time.Second
	freshSuffix   = ".new"  // of the folder in which new data is made
	logKeep       = 1 << 20 // bytes of server log before a start sets it aside
)

// holding is what the process that started the server has.
type holding struct {
	lock *os.File
	proc *process
}

// Open returns a running cluster: one it starts, or for a named folder one
// that another process has started. The first use of a folder takes a second
// or two. The error is a *MissingError when no fitting server is installed, and
// wraps ErrFolder when the folder itself is the trouble.
func Open(ctx context.Context, o Options) (*Cluster, error) {
	c := &Cluster{log: o.Log, quit: make(chan struct{}), watched: make(chan struct{})}
	var err error
	switch {
	case o.Throwaway && o.Dir != "":
		return nil, fmt.Errorf("%w: a throw-away database has no folder of its own choosing", ErrFolder)
	case o.Throwaway:
		c.folder, err = throwawayFolder(ctx)
	default:
		c.folder, err = openFolder(o.Dir)
	}
	if err != nil {
		return nil, err
	}
	if err := c.settle(ctx); err != nil {
		if o.Throwaway {
			err = errors.Join(err, os.RemoveAll(c.folder.dir))
		}
		return nil, err
	}
	go c.watch()
	return c, nil
}

// settle starts the server if nobody has, and joins it otherwise. While
// another process is starting or stopping it, settle waits.
func (c *Cluster) settle(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, startPatience)
	defer cancel()
	for {
		lock, err := c.folder.tryLock()
		if err != nil {
			return err
		}
		if lock != nil {
			if err := c.start(ctx, lock); err != nil {
				return errors.Join(err, lock.Close())
			}
			return nil
		}
		if c.join() {
			return nil
		}
		if !pause(ctx, 50*time.Millisecond) {
			return fmt.Errorf("cluster: another process holds %s but its database does not become ready: %w", c.folder.dir, ctx.Err())
		}
	}
}

// join takes up the running server of another process, if it is ready.
func (c *Cluster) join() bool {
	p, err := readPIDFile(c.folder.data())
	if err != nil || !p.Ready || p.Port != socketPort {
		return false
	}
	if err := syscall.Kill(p.PID, 0); err != nil && !errors.Is(err, syscall.EPERM) {
		return false
	}
	// The socket folder was made by a process of the data's owner; nobody
	// else could have written its name into the pid file.
	major, err := c.folder.version()
	if err != nil {
		return false
	}
	c.server = Server{Major: major}
	if s, err := findMajor(major); err == nil {
		c.server = s
	}
	c.socket = p.Socket
	c.say("Using the database that is already running in %s.", c.folder.dir)
	return true
}

// start brings the server up, with the lock held. On failure nothing is left
// running and the lock is still the caller's.
func (c *Cluster) start(ctx context.Context, lock *os.File) (err error) {
	if err := clearServers(ctx, c.folder.data()); err != nil {
		return err
	}
	server, err := c.folder.prepare(ctx, c.say)
	if err != nil {
		return err
	}
	socket, err := c.folder.makeSocketDir(c.socket)
	if err != nil {
		return err
	}
	// No server is left, so a pid file is a dead one's. Its number may by
	// now be some other program's, at which PostgreSQL would refuse to start.
	if err := os.Remove(filepath.Join(c.folder.data(), "postmaster.pid")); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("cluster: %w", err)
	}
	out, from, err := c.folder.openLog()
	if err != nil {
		return err
	}
	defer out.Close() // the server has its own copy
	cmd := command(server.Bin, "postgres", c.folder.who, serverArgs(c.folder, socket)...)
	cmd.Stdout, cmd.Stderr = out, out
	proc, err := launch(cmd)
	if err != nil {
		return fmt.Errorf("cluster: start the database: %w", err)
	}
	if err := c.waitReady(ctx, proc); err != nil {
		return errors.Join(fmt.Errorf("cluster: the database did not start: %w\n%s", err, tail(c.folder.logFile(), from)),
			stopIfRunning(proc))
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.held == nil && c.socket == "" { // the first start; later ones change neither
		c.server, c.socket = server, socket
	}
	c.held = &holding{lock: lock, proc: proc}
	return nil
}

func (c *Cluster) waitReady(ctx context.Context, proc *process) error {
	for {
		p, err := readPIDFile(c.folder.data())
		if err == nil && p.Ready && p.PID == proc.cmd.Process.Pid {
			return nil
		}
		select {
		case <-proc.gone:
			return fmt.Errorf("it ended (%w)", errors.Join(proc.err, errEnded))
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
	}
}

var errEnded = errors.New("before it was ready")

func stopIfRunning(p *process) error {
	if !p.running() {
		return nil
	}
	return p.end(quickEnding...)
}

// prepare finds the programs for the folder's data and makes the data first if
// there is none. It is made beside its place and moved there when whole, so
// that an interrupted first start leaves nothing half made.
func (f folder) prepare(ctx context.Context, say func(string, ...any)) (Server, error) {
	major, err := f.version()
	if err != nil {
		return Server{}, err
	}
	if major != 0 {
		return findMajor(major)
	}
	s, err := Find()
	if err != nil {
		return Server{}, err
	}
	fresh := f.data() + freshSuffix
	if err := os.RemoveAll(fresh); err != nil {
		return Server{}, fmt.Errorf("%w: %w", ErrFolder, err)
	}
	if err := os.Mkdir(fresh, 0o700); err != nil {
		return Server{}, fmt.Errorf("%w: %w", ErrFolder, err)
	}
	if err := f.giveDir(fresh); err != nil {
		return Server{}, err
	}
	if !f.throwaway {
		say("Making a new database in %s.", f.dir)
	}
	if err := initialize(ctx, s, f, fresh); err != nil {
		return Server{}, err
	}
	if err := os.Rename(fresh, f.data()); err != nil {
		return Server{}, fmt.Errorf("%w: %w", ErrFolder, err)
	}
	return s, nil
}

func initialize(ctx context.Context, s Server, f folder, dir string) error {
	args := []string{"-D", dir, "-U", Superuser, "--auth-local=trust", "--auth-host=reject",
		"-E", "UTF8", "--locale=C.UTF-8", "--no-instructions"}
	if f.throwaway {
		args = append(args, "--no-sync")
	} else {
		args = append(args, "--data-checksums")
	}
	out, from, err := f.openLog()
	if err != nil {
		return err
	}
	defer out.Close()
	cmd := command(s.Bin, "initdb", f.who, args...)
	cmd.Stdout, cmd.Stderr = out, out
	p, err := launch(cmd)
	if err != nil {
		return fmt.Errorf("cluster: initdb: %w", err)
	}
	select {
	case <-p.gone:
	case <-ctx.Done():
		return errors.Join(ctx.Err(), p.end(ending{syscall.SIGINT, 5 * time.Second}, ending{syscall.SIGKILL, 5 * time.Second}))
	}
	if p.err != nil {
		return fmt.Errorf("cluster: initdb: %w\n%s", p.err, tail(f.logFile(), from))
	}
	return nil
}

// openLog opens the server's log to write at its end, and says where that is.
// A long one is set aside first, replacing the one before it.
func (f folder) openLog() (_ *os.File, from int64, err error) {
	path := f.logFile()
	if st, err := os.Lstat(path); err == nil && st.Size() > logKeep {
		if err := os.Rename(path, path+".old"); err != nil {
			return nil, 0, fmt.Errorf("%w: %w", ErrFolder, err)
		}
	}
	file, err := f.openOwn(path, os.O_WRONLY|os.O_APPEND)
	if err != nil {
		return nil, 0, err
	}
	if from, err = file.Seek(0, io.SeekEnd); err != nil {
		return nil, 0, errors.Join(err, file.Close())
	}
	return file, from, nil
}

// serverArgs are the server's settings. They are given at every start, not
// written into the folder, so that an old folder gets today's.
func serverArgs(f folder, socket string) []string {
	args := []string{"-D", f.data(), "-k", socket}
	set := func(pairs ...string) {
		for _, p := range pairs {
			args = append(args, "-c", p)
		}
	}
	set("listen_addresses=", fmt.Sprintf("port=%d", socketPort), "unix_socket_permissions=0700",
		"cluster_name=sixmile", "max_connections=100", "jit=off",
		"timezone=UTC", "log_timezone=UTC", "lc_messages=C", "restart_after_crash=on")
	// The log is for the server's own troubles. Statements, their parameters
	// and the messages of failed ones can hold what a grower wrote, so none of
	// them is logged; the program has the errors anyway.
	set("log_destination=stderr", "logging_collector=off", "log_min_messages=log",
		"log_min_error_statement=panic", "log_error_verbosity=terse", "log_statement=none",
		"log_min_duration_statement=-1", "log_min_duration_sample=-1", "log_transaction_sample_rate=0",
		"log_duration=off", "log_parameter_max_length=0", "log_parameter_max_length_on_error=0",
		"log_connections=off", "log_disconnections=off", "log_lock_waits=off", "log_temp_files=-1",
		"log_checkpoints=off", "log_autovacuum_min_duration=-1",
		"debug_print_parse=off", "debug_print_rewritten=off", "debug_print_plan=off",
		"log_line_prefix=%m [%p] ")
	if f.throwaway {
		set("fsync=off", "synchronous_commit=off", "full_page_writes=off", "wal_level=minimal",
			"max_wal_senders=0", "autovacuum=off", "shared_buffers=64MB")
	}
	return args
}
