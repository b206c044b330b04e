//go:build linux

package cluster

import (
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestThrowawayIsSwept(t *testing.T) {
	t.Parallel()
	exe, err := os.Executable()
	require.NoError(t, err)
	alive := startChild(t, exe, "throwaway", nil)
	killed := startChild(t, exe, "throwaway", nil)
	require.NotEqual(t, alive.dir, killed.dir)
	killed.kill()
	require.DirExists(t, killed.dir)

	sweep(t.Context(), filepath.Dir(killed.dir), time.Hour)
	require.DirExists(t, killed.dir, "young folders are left alone")
	old := time.Now().Add(-2 * time.Hour)
	for _, d := range []string{alive.dir, killed.dir} {
		require.NoError(t, os.Chtimes(d, old, old))
	}
	sweep(t.Context(), filepath.Dir(killed.dir), time.Hour)
	require.NoDirExists(t, killed.dir)
	require.DirExists(t, alive.dir, "one in use is left alone")
	require.NotEmpty(t, serversIn(filepath.Join(alive.dir, "postgres")))
	alive.finish(t)
	require.NoDirExists(t, alive.dir)
}

// As an ordinary user, and then as root in that user's folder.
func TestOrdinaryUser(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Log("this run is an ordinary user's: every other test shows the same")
		return
	}
	t.Parallel()
	exe, err := os.Executable()
	require.NoError(t, err)
	// The other user cannot enter the folder this program was built in.
	home := dataDir(t)
	copied := filepath.Join(home, "helper")
	require.NoError(t, exec.Command("cp", exe, copied).Run())
	require.NoError(t, os.Chmod(copied, 0o755))
	nobody := &syscall.Credential{Uid: 65534, Gid: 65534}
	dir := filepath.Join(home, "data")
	require.NoError(t, os.Mkdir(dir, 0o700))
	require.NoError(t, os.Chown(dir, 65534, 65534))

	c := startChild(t, copied, dir, nobody)
	joined := open(t, dir)
	require.True(t, joined.Joined())
	run(t, joined, Superuser, "CREATE TABLE kept AS SELECT 7 AS n")
	require.NoError(t, joined.Stop())
	c.finish(t)
	requireNoServer(t, dir)

	own := open(t, dir)
	require.False(t, own.Joined())
	require.Equal(t, 65534, own.folder.who.uid, "root runs it as the folder's owner")
	require.Equal(t, "7", mustQuery(t, own, Superuser, "SELECT n::text FROM kept"))
	require.NoError(t, own.Stop())
	startChild(t, copied, dir, nobody).finish(t)
}

func TestFolderRefused(t *testing.T) {
	t.Parallel()
	file := filepath.Join(dataDir(t), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	future := dataDir(t)
	require.NoError(t, os.Mkdir(filepath.Join(future, "postgres"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(future, "postgres", "PG_VERSION"), []byte("99\n"), 0o600))
	garbled := dataDir(t)
	require.NoError(t, os.Mkdir(filepath.Join(garbled, "postgres"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(garbled, "postgres", "PG_VERSION"), []byte("x"), 0o600))
	if os.Geteuid() == 0 {
		for _, d := range []string{future, garbled} {
			require.NoError(t, os.Chown(filepath.Join(d, "postgres"), 65534, 65534))
		}
	}
	tests := map[string]struct {
		o    Options
		want string
	}{
		"no folder":                {Options{}, "no folder was given"},
		"a file":                   {Options{Dir: file}, "is not a folder"},
		"below a file":             {Options{Dir: filepath.Join(file, "data")}, "not a directory"},
		"throw-away with a folder": {Options{Dir: future, Throwaway: true}, "throw-away"},
		"made by a newer version":  {Options{Dir: future}, "PostgreSQL 99"},
		"no version in it":         {Options{Dir: garbled}, "says no version"},
	}
	if os.Geteuid() == 0 {
		closed := dataDir(t)
		require.NoError(t, os.Chmod(closed, 0o700))
		tests["closed to the server's user"] = struct {
			o    Options
			want string
		}{Options{Dir: filepath.Join(closed, "data")}, "may not enter " + closed}
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := Open(t.Context(), tt.o)
			require.ErrorIs(t, err, ErrFolder)
			require.ErrorContains(t, err, tt.want)
		})
	}
}

func TestSocketFolderTaken(t *testing.T) {
	t.Parallel()
	who, err := unprivileged()
	require.NoError(t, err)
	f := folder{dir: dataDir(t), who: who}
	free, err := f.makeSocketDir("")
	require.NoError(t, err)
	again, err := f.makeSocketDir("")
	require.NoError(t, err)
	require.Equal(t, free, again, "one of ours is used again")

	require.NoError(t, os.Chmod(free, 0o777)) // as somebody else would leave it
	other, err := f.makeSocketDir("")
	require.NoError(t, err)
	require.NotEqual(t, free, other)
	_, err = f.makeSocketDir(free)
	require.ErrorIs(t, err, errTaken)
	require.NoError(t, os.Remove(free))

	require.NoError(t, os.Symlink(f.dir, free))
	third, err := f.makeSocketDir("")
	require.NoError(t, err)
	require.NotEqual(t, free, third, "a link is not followed")
	for _, d := range []string{free, other, third} {
		require.NoError(t, os.Remove(d))
	}
}

func TestRootGivesAwayNoLinkedFile(t *testing.T) {
	t.Parallel()
	f := folder{dir: dataDir(t), who: identity{uid: 65534, gid: 65534, drop: os.Geteuid() == 0}}
	mine := filepath.Join(f.dir, "mine")
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o600))
	require.NoError(t, os.Link(mine, f.lockFile()))
	lock, err := f.tryLock()
	require.NoError(t, err)
	require.NoError(t, lock.Close())
	st, err := os.Stat(mine)
	require.NoError(t, err)
	sys, ok := st.Sys().(*syscall.Stat_t)
	require.True(t, ok)
	require.Equal(t, os.Geteuid(), int(sys.Uid))

	require.NoError(t, os.Symlink(mine, f.logFile()))
	_, _, err = f.openLog()
	require.ErrorIs(t, err, ErrFolder)
}
