package cluster

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"time"
)

// installScript installs the package named as its first argument.
//
// Installing a PostgreSQL server on Debian or Ubuntu normally makes and starts
// a cluster called main, which nobody here asked for. The packages read their
// own settings folder to see whether to, so for the time of the installation
// one small file there says no; it is taken away again, whatever happens. A
// cluster that exists already is neither changed nor removed.
const installScript = `set -e
dir=/etc/postgresql-common/createcluster.d
note=$dir/sixmile-install.conf
mkdir -p "$dir"
trap 'rm -f "$note"' EXIT
trap 'exit 1' HUP INT TERM
printf 'create_main_cluster = false\n' >"$note"
apt-get install -y --no-install-recommends -o DPkg::Lock::Timeout=300 -o Dpkg::Use-Pty=0 -- "$1"
`

// installEnv keeps apt from asking and from restarting other services.
var installEnv = []string{"DEBIAN_FRONTEND=noninteractive", "NEEDRESTART_MODE=l", "NEEDRESTART_SUSPEND=1", "LC_ALL=C.UTF-8"}

// installer holds what Ensure needs of the machine, so that tests can stand in
// for it.
type installer struct {
	find    func() (Server, error)
	missing func() *MissingError
	root    bool
	run     func(ctx context.Context, name string, args ...string) error
}

// Ensure is Find, and where that finds nothing it says on out which packages
// are needed and installs them with apt-get, if the process is root's or sudo
// asks for no password. The error is, or wraps, a *MissingError when it may not
// or cannot.
func Ensure(ctx context.Context, out io.Writer) (Server, error) {
	s, err := Find()
	if err == nil {
		return s, nil
	}
	aptGet, lookErr := exec.LookPath("apt-get")
	if lookErr != nil {
		return Server{}, err
	}
	// Several test programs may get here at once on a new machine.
	unlock, err := lockShared(ctx, aptGet)
	if err != nil {
		return Server{}, err
	}
	defer unlock()
	i := installer{find: Find, missing: missing, root: os.Geteuid() == 0, run: runQuietly}
	return i.ensure(ctx, out)
}

func (i installer) ensure(ctx context.Context, out io.Writer) (Server, error) {
	if s, err := i.find(); err == nil {
		return s, nil // another process has just installed it
	}
	if !i.root && i.run(ctx, "sudo", "-n", "true") != nil {
		return Server{}, i.missing()
	}
	fmt.Fprintln(out, "Reading apt's package lists.")
	if err := i.asRoot(ctx, "apt-get", "update"); err != nil {
		// The lists at hand may do: a broken source of something else is
		// no reason to stop here.
		fmt.Fprintf(out, "apt-get update failed (%v); going on with the lists at hand.\n", err)
	}
	need := i.missing()
	fmt.Fprintf(out, "Sixmile needs PostgreSQL with PostGIS. Installing %s (about 175 MB).\n", strings.Join(need.Packages, ", "))
	for _, p := range need.Packages {
		if err := i.asRoot(ctx, "sh", "-c", installScript, "sh", p); err != nil {
			return Server{}, errors.Join(fmt.Errorf("cluster: install %s: %w", p, err), need)
		}
	}
	s, err := i.find()
	if err != nil {
		return Server{}, errors.Join(fmt.Errorf("cluster: %s is installed, but no PostgreSQL %d with PostGIS %s or newer is found",
			strings.Join(need.Packages, ", "), MinPostgreSQL, MinPostGIS), need)
	}
	fmt.Fprintf(out, "PostgreSQL %d with PostGIS %s is ready.\n", s.Major, s.PostGIS)
	return s, nil
}

func (i installer) asRoot(ctx context.Context, args ...string) error {
	// sudo clears the environment, so env sets it on the far side.
	args = append(append([]string{"env"}, installEnv...), args...)
	if !i.root {
		args = append([]string{"sudo", "-n"}, args...)
	}
	return i.run(ctx, args[0], args[1:]...)
}

// runQuietly runs a command without input. What it prints is shown only when
// it fails: the end of it, as the error.
func runQuietly(ctx context.Context, name string, args ...string) error {
	cmd := exec.CommandContext(ctx, name, args...)
	// A package manager is asked to end, not killed halfway.
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	cmd.WaitDelay = 30 * time.Second
	printed, err := cmd.CombinedOutput()
	if err == nil {
		return nil
	}
	if len(printed) > 1500 {
		printed = printed[len(printed)-1500:]
	}
	return fmt.Errorf("%w\n%s", err, printed)
}

// lockShared waits for the advisory lock on a file of the system that is there
// for everybody to read, so no lock file has to be made where others could
// have put theirs first.
func lockShared(ctx context.Context, path string) (unlock func(), err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	for {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if err == nil {
			return func() { _ = f.Close() }, nil // nothing was written
		}
		if !errors.Is(err, syscall.EWOULDBLOCK) || !pause(ctx, 200*time.Millisecond) {
			return nil, errors.Join(err, ctx.Err(), f.Close())
		}
	}
}
