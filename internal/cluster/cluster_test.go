//go:build linux

package cluster

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

func TestKeepsData(t *testing.T) {
	t.Parallel()
	dir := dataDir(t)
	c := open(t, dir)
	require.False(t, c.Joined())
	created, err := c.CreateDatabase(t.Context(), "office")
	require.NoError(t, err)
	require.True(t, created)
	created, err = c.CreateDatabase(t.Context(), "office")
	require.NoError(t, err)
	require.False(t, created, "a database that is there is left alone")
	run(t, c, "office", "CREATE EXTENSION postgis; CREATE TABLE kept AS SELECT 7 AS n")

	t.Run("nothing listens on the network", func(t *testing.T) {
		require.Empty(t, mustQuery(t, c, "office", "SHOW listen_addresses"))
	})
	t.Run("durable", func(t *testing.T) {
		for name, want := range map[string]string{
			"fsync": "on", "synchronous_commit": "on", "full_page_writes": "on",
			"data_checksums": "on", "autovacuum": "on", "jit": "off",
		} {
			require.Equal(t, want, mustQuery(t, c, "office", "SHOW "+name), name)
		}
	})
	t.Run("closed to others", func(t *testing.T) {
		for _, d := range []string{c.socket, c.folder.data()} {
			st, err := os.Lstat(d)
			require.NoError(t, err)
			require.Equal(t, fs.FileMode(0o700), st.Mode().Perm(), d)
			sys, ok := st.Sys().(*syscall.Stat_t)
			require.True(t, ok)
			require.NotZero(t, sys.Uid, "root owns %s", d)
		}
		require.LessOrEqual(t, len(c.socket), maxSocketDir)
	})
	t.Run("not as root", func(t *testing.T) {
		pids := serversIn(c.folder.data())
		require.NotEmpty(t, pids)
		for _, pid := range pids {
			st, err := os.Stat(filepath.Join("/proc", strconv.Itoa(pid)))
			if err != nil {
				continue // a worker that has just ended
			}
			sys, ok := st.Sys().(*syscall.Stat_t)
			require.True(t, ok)
			require.NotZero(t, sys.Uid)
		}
	})

	socket := c.socket
	require.NoError(t, c.Stop())
	require.NoError(t, c.Stop(), "a second Stop does nothing")
	require.Empty(t, serversIn(c.folder.data()))
	require.NoDirExists(t, socket)

	again := open(t, dir)
	require.Equal(t, "7", mustQuery(t, again, "office", "SELECT n::text FROM kept"))
	require.Equal(t, socket, again.socket, "the socket's path follows from the folder")
	require.NoError(t, again.DropDatabase(t.Context(), "office"))
	require.NoError(t, again.DropDatabase(t.Context(), "office"), "one that is not there is no error")
}

func TestSideBySide(t *testing.T) {
	t.Parallel()
	a, b := open(t, dataDir(t)), open(t, dataDir(t))
	require.NotEqual(t, a.socket, b.socket)
	_, err := a.CreateDatabase(t.Context(), "only_in_a")
	require.NoError(t, err)
	require.Equal(t, "0", mustQuery(t, b, Superuser, "SELECT count(*)::text FROM pg_database WHERE datname = 'only_in_a'"))
	require.NoError(t, a.Stop())
	require.Equal(t, "1", mustQuery(t, b, Superuser, "SELECT '1'"), "one stops, the other runs on")
}

func TestKilledProcess(t *testing.T) {
	t.Parallel()
	dir := dataDir(t)
	exe, err := os.Executable()
	require.NoError(t, err)

	first := startChild(t, exe, dir, nil)
	joined := open(t, dir)
	require.True(t, joined.Joined())
	run(t, joined, Superuser, "CREATE TABLE kept AS SELECT 7 AS n")
	require.NoError(t, joined.Stop())
	require.NotEmpty(t, serversIn(filepath.Join(dir, "postgres")), "a joined process stops nothing")

	first.kill()
	c := open(t, dir) // at once, while the old server may still be ending
	require.False(t, c.Joined())
	require.Equal(t, "7", mustQuery(t, c, Superuser, "SELECT n::text FROM kept"))
	require.NoError(t, c.Stop())

	second := startChild(t, exe, dir, nil)
	second.kill()
	requireNoServer(t, dir) // without anybody opening it again
	require.NoError(t, open(t, dir).Stop())
}

func TestTakesOver(t *testing.T) {
	t.Parallel()
	exe, err := os.Executable()
	require.NoError(t, err)
	for name, leave := range map[string]func(*testing.T, *child){
		"the starter stops": func(t *testing.T, c *child) { c.finish(t) },
		"kill -9":           func(_ *testing.T, c *child) { c.kill() },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := dataDir(t)
			starter := startChild(t, exe, dir, nil)
			c := open(t, dir)
			require.True(t, c.Joined())
			dsn := c.DSN(Superuser, "")
			leave(t, starter)
			requireReachable(t, c)
			require.False(t, c.Joined())
			require.Equal(t, dsn, c.DSN(Superuser, ""))
		})
	}
}

func TestServerDies(t *testing.T) {
	t.Parallel()
	c := open(t, dataDir(t))
	old := c.holding().proc
	require.NoError(t, old.cmd.Process.Kill())
	<-old.gone
	requireReachable(t, c)
	// The new server answers a moment before it is known to be ready.
	require.Eventually(t, func() bool { return c.holding().proc != old }, 5*time.Second, 10*time.Millisecond)
}

func requireReachable(t *testing.T, c *Cluster) {
	t.Helper()
	require.Eventually(t, func() bool { s, err := query(c, Superuser, "SELECT '1'"); return err == nil && s == "1" },
		15*time.Second, 50*time.Millisecond, "the database does not come back")
	require.Eventually(t, func() bool { return !c.Joined() }, 5*time.Second, 10*time.Millisecond)
}

// What an interrupted start or a reboot may leave.
func TestLeftovers(t *testing.T) {
	t.Parallel()
	dir := dataDir(t)
	half := filepath.Join(dir, "postgres"+freshSuffix, "base")
	require.NoError(t, os.MkdirAll(half, 0o700))
	c := open(t, dir)
	require.NoDirExists(t, filepath.Dir(half))
	require.NoError(t, c.Stop())

	// After a reboot the number in a pid file can be any program's.
	other := exec.Command("sleep", "60")
	other.SysProcAttr = command("", "", c.folder.who).SysProcAttr
	require.NoError(t, other.Start())
	t.Cleanup(func() {
		_ = other.Process.Kill()
		_ = other.Wait()
	})
	pid := filepath.Join(c.folder.data(), "postmaster.pid")
	text := strings.Join([]string{strconv.Itoa(other.Process.Pid), c.folder.data(), "1", "5432", c.socket, "", "1 1", "ready   "}, "\n")
	require.NoError(t, os.WriteFile(pid, []byte(text), 0o644))
	again := open(t, dir)
	require.False(t, again.Joined())
	require.Equal(t, "1", mustQuery(t, again, Superuser, "SELECT '1'"))
	require.NoError(t, syscall.Kill(other.Process.Pid, 0), "the other program is left alone")
}

func TestLogHoldsNoValues(t *testing.T) {
	t.Parallel()
	dir := dataDir(t)
	c := open(t, dir)
	conn, err := pgx.Connect(t.Context(), c.DSN(Superuser, ""))
	require.NoError(t, err)
	const secret = "field behind the red barn"
	for _, sql := range []string{
		"SELECT '" + secret + "'::int",         // the value is in the message itself
		"SELECT syntax error '" + secret + "'", // in the statement
		"DO $$ BEGIN RAISE WARNING '" + secret + "'; END $$",
		"CREATE TABLE u (a text PRIMARY KEY); INSERT INTO u VALUES ('" + secret + "'), ('" + secret + "')", // in the detail
	} {
		_, err := conn.Exec(t.Context(), sql)
		if !strings.HasPrefix(sql, "DO") {
			require.Error(t, err)
		}
	}
	_, err = conn.Exec(t.Context(), "SELECT $1::text::int", secret) // in a parameter
	require.Error(t, err)
	// A session that is cut off writes a line; the server's own lines stay.
	_, err = query(c, Superuser, "SELECT pg_terminate_backend("+strconv.Itoa(int(conn.PgConn().PID()))+")::text")
	require.NoError(t, err)
	require.NoError(t, c.Stop())
	text, err := os.ReadFile(filepath.Join(dir, "server.log"))
	require.NoError(t, err)
	require.Contains(t, string(text), "database system is ready", "the log is not simply empty")
	require.Contains(t, string(text), "terminating connection")
	require.NotContains(t, string(text), secret)
	require.NotContains(t, string(text), "SELECT")
}

func TestCloneDatabase(t *testing.T) {
	t.Parallel()
	c, err := Open(t.Context(), Options{Throwaway: true})
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, c.Stop())
		require.NoDirExists(t, c.folder.dir)
	})
	_, err = c.CreateDatabase(t.Context(), "tmpl")
	require.NoError(t, err)
	run(t, c, "tmpl", `
		CREATE ROLE keeper; CREATE ROLE reader LOGIN; CREATE ROLE stranger LOGIN;
		ALTER DATABASE tmpl OWNER TO keeper;
		REVOKE ALL ON DATABASE tmpl FROM PUBLIC;
		GRANT CONNECT ON DATABASE tmpl TO reader;
		ALTER DATABASE tmpl SET statement_timeout = '7s';
		ALTER ROLE reader IN DATABASE tmpl SET work_mem = '5MB';
		CREATE TABLE t AS SELECT 'copied' AS v; GRANT SELECT ON t TO reader`)
	require.NoError(t, c.CloneDatabase(t.Context(), "one", "tmpl"))

	as := func(role, sql string) (string, error) {
		conn, err := pgx.Connect(t.Context(), c.DSN("one", role))
		if err != nil {
			return "", err
		}
		defer conn.Close(t.Context())
		var s string
		err = conn.QueryRow(t.Context(), sql).Scan(&s)
		return s, err
	}
	for sql, want := range map[string]string{
		"SELECT v FROM t":        "copied",
		"SHOW statement_timeout": "7s",
		"SHOW work_mem":          "5MB",
		"SELECT pg_get_userbyid(datdba)::text FROM pg_database WHERE datname = 'one'": "keeper",
	} {
		got, err := as("reader", sql)
		require.NoError(t, err, sql)
		require.Equal(t, want, got, sql)
	}
	_, err = as("stranger", "SELECT '1'")
	require.ErrorContains(t, err, "permission denied for database")
	require.Error(t, c.CloneDatabase(t.Context(), "two", "no such template"))
}
