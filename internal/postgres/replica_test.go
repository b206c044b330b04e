package postgres_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/cluster"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/postgres"
)

// durable is a private cluster that a replica can follow, which the tests' own
// cannot be: it trades that for speed.
func durable(t *testing.T) *cluster.Cluster {
	t.Helper()
	dir, err := os.MkdirTemp("/tmp", "sixmile-test-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(dir, 0o755))
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	c, err := cluster.Open(ctxOf(t), cluster.Options{Dir: filepath.Join(dir, "data")})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, c.Stop()) })
	return c
}

// streaming is a replica made with PostgreSQL's own tools: its folder, and the
// login of its administrator.
func streaming(t *testing.T, c *cluster.Cluster, primary string) (dsn string, pause, resume func()) {
	t.Helper()
	// As the user the primary runs as: PostgreSQL does not run as root.
	as := func(name string, args ...string) *exec.Cmd {
		cmd := exec.Command(filepath.Join(c.Server().Bin, name), args...)
		cmd.Dir = "/"
		if uid, gid := ownerOf(t, c); os.Geteuid() == 0 {
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uid, Gid: gid}}
		}
		return cmd
	}
	dir, err := os.MkdirTemp("/tmp", "sixmile-test-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	if uid, gid := ownerOf(t, c); os.Geteuid() == 0 {
		require.NoError(t, os.Chown(dir, int(uid), int(gid)))
	}
	data := filepath.Join(dir, "data")
	out, err := as("pg_basebackup", "-d", primary, "-D", data, "-R", "-X", "stream", "-c", "fast").CombinedOutput()
	require.NoError(t, err, "%s", out)
	server := as("postgres", "-D", data, "-k", dir, "-c", "listen_addresses=", "-c", "port=5432", "-c", "hot_standby=on",
		"-c", "log_min_messages=fatal", "-c", "wal_receiver_timeout=5s", "-c", "max_connections=100", "-c", "wal_retrieve_retry_interval=200ms")
	require.NoError(t, server.Start())
	t.Cleanup(func() {
		require.NoError(t, server.Process.Signal(syscall.SIGQUIT))
		server.Wait() //nolint:errcheck // ended on purpose
	})
	dsn = fmt.Sprintf("host=%s port=5432 user=%s dbname=sixmile sslmode=disable", dir, cluster.Superuser)
	replay := func(sql string) func() {
		return func() {
			_, err := open(t, dsn).Exec(ctxOf(t), sql)
			require.NoError(t, err)
		}
	}
	require.Eventually(t, func() bool {
		p, err := postgres.Open(ctxOf(t), dsn)
		if err == nil {
			p.Close()
		}
		return err == nil
	}, 20*time.Second, 50*time.Millisecond)
	return dsn, replay(`SELECT pg_wal_replay_pause()`), replay(`SELECT pg_wal_replay_resume()`)
}

func ownerOf(t *testing.T, c *cluster.Cluster) (uid, gid uint32) {
	t.Helper()
	var dir string
	require.NoError(t, open(t, c.DSN("sixmile", "")).QueryRow(ctxOf(t), `SHOW data_directory`).Scan(&dir))
	st, err := os.Stat(dir)
	require.NoError(t, err)
	sys := st.Sys().(*syscall.Stat_t)
	return sys.Uid, sys.Gid
}

// Pages read from a real streaming replica say what the database says: also while
// the replica lags behind, and while the database is gone.
func TestPagesFromAStreamingReplica(t *testing.T) {
	c := durable(t)
	_, err := c.CreateDatabase(ctxOf(t), "sixmile")
	require.NoError(t, err)
	logins, err := postgres.Provision(ctxOf(t), c.DSN("sixmile", ""))
	require.NoError(t, err)
	o := officeOn(t, logins)
	where := o.townships[o.counties[0].ID][0].ID
	o.farms(4, where, 2020, 100)
	first := o.release(date(2020, 12, 1), date(2021, 1, 4))

	dsn, pause, resume := streaming(t, c, c.DSN("sixmile", ""))
	login, err := logins.PublicAt(dsn)
	require.NoError(t, err)
	copied, err := postgres.OpenReplica(ctxOf(t), login)
	require.NoError(t, err)
	t.Cleanup(copied.Close)
	pages := postgres.NewFollowed(o.public, copied)
	same := func() {
		t.Helper()
		want, err := postgres.NewPublished(o.public).Version(ctxOf(t))
		require.NoError(t, err)
		got, err := pages.Version(ctxOf(t))
		require.NoError(t, err)
		require.Equal(t, want, got)
		issue, err := pages.Issue(ctxOf(t), got.Number)
		require.NoError(t, err)
		require.Equal(t, o.issue(want.Number), issue)
	}
	same()
	var inRecovery bool
	require.NoError(t, copied.QueryRow(ctxOf(t), `SELECT pg_is_in_recovery()`).Scan(&inRecovery))
	require.True(t, inRecovery, "a replica, not a second database")
	_, err = copied.Exec(ctxOf(t), `SELECT * FROM priv.sample`)
	require.Error(t, err, "the public role there is the public role here")

	// A recall shows with the next request, with the replica an hour behind.
	pause()
	o.recall(edition.Ref{Edition: first.Number, ID: 1}, desk.RecallReasons[0], date(2021, 1, 5))
	behind, err := postgres.NewPublished(copied).Version(ctxOf(t))
	require.NoError(t, err)
	require.Zero(t, behind.Recalled, "it lags")
	same()
	resume()
	require.Eventually(t, func() bool {
		v, err := postgres.NewPublished(copied).Version(ctxOf(t))
		return err == nil && v.Recalled == 1
	}, 20*time.Second, 50*time.Millisecond)
	same()

	// The database goes; pages go on.
	gone, err := postgres.OpenReplica(context.Background(), "host=/nonexistent user=x dbname=x")
	require.NoError(t, err)
	defer gone.Close()
	alone := postgres.NewFollowed(gone, copied)
	v, err := alone.Version(ctxOf(t))
	require.NoError(t, err)
	require.Equal(t, first.Number, v.Number)
	issue, err := alone.Issue(ctxOf(t), v.Number)
	require.NoError(t, err)
	require.Equal(t, o.issue(v.Number), issue)
	// And the replica: the database answers.
	v, err = postgres.NewFollowed(o.public, gone).Version(ctxOf(t))
	require.NoError(t, err)
	require.Equal(t, 1, v.Recalled, strconv.Itoa(v.Number))
	_, err = postgres.NewFollowed(o.public, gone).Issue(ctxOf(t), v.Number)
	require.NoError(t, err)
}

func TestUnavailable(t *testing.T) {
	gone, err := postgres.OpenReplica(context.Background(), "host=/nonexistent user=x dbname=x")
	require.NoError(t, err)
	defer gone.Close()
	err = gone.Ping(ctxOf(t))
	require.True(t, postgres.Unavailable(err), "%v", err)
	late, cancel := context.WithCancel(context.Background())
	cancel()
	require.False(t, postgres.Unavailable(late.Err()), "the reader left")
	require.False(t, postgres.Unavailable(nil))
	require.False(t, postgres.Unavailable(edition.ErrErratum))
}
