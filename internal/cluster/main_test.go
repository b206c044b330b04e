//go:build linux

package cluster

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// helperVar makes the test program a helper that opens the folder the variable
// names, prints the connection string, and stops when its input closes.
const helperVar = "SIXMILE_TEST_HELPER_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(helperVar); dir != "" {
		os.Exit(helper(dir))
	}
	if _, err := Ensure(context.Background(), os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(m.Run())
}

func helper(dir string) int {
	o := Options{Dir: dir}
	if dir == "throwaway" {
		o = Options{Throwaway: true}
	}
	c, err := Open(context.Background(), o)
	if err != nil {
		fmt.Println("error:", err)
		return 1
	}
	fmt.Println(c.folder.dir)
	_, _ = io.Copy(io.Discard, os.Stdin) // ends when the test closes it
	if err := c.Stop(); err != nil {
		fmt.Println("error:", err)
		return 1
	}
	return 0
}

// child is a helper process that has a cluster open.
type child struct {
	cmd   *exec.Cmd
	stdin io.Closer
	out   *bufio.Reader
	dir   string // the folder it works in
}

// startChild runs the helper, as another user if cred says so, and returns
// once its cluster is open.
func startChild(t *testing.T, exe, dir string, cred *syscall.Credential) *child {
	t.Helper()
	cmd := exec.Command(exe)
	cmd.Dir = "/"
	cmd.Env = append(os.Environ(), helperVar+"="+dir)
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: cred}
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	c := &child{cmd: cmd, stdin: in, out: bufio.NewReader(out)}
	t.Cleanup(c.kill)
	line, err := c.out.ReadString('\n')
	require.NoError(t, err)
	require.False(t, strings.HasPrefix(line, "error:"), line)
	c.dir = strings.TrimSpace(line)
	return c
}

// kill ends the helper as kill -9 does. A second call does nothing.
func (c *child) kill() {
	_ = c.cmd.Process.Kill()
	_ = c.cmd.Wait()
}

// finish lets the helper stop its cluster and end.
func (c *child) finish(t *testing.T) {
	t.Helper()
	require.NoError(t, c.stdin.Close())
	rest, err := io.ReadAll(c.out)
	require.NoError(t, err)
	require.Empty(t, string(rest))
	require.NoError(t, c.cmd.Wait())
}

// dataDir makes a folder that also the user a server runs as can reach, in
// memory where there is some: t.TempDir is closed to that user.
func dataDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp(throwawayBases()[0], "sixmile-test-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(dir, 0o711))
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	return dir
}

// open opens dir and stops it at the end of the test.
func open(t *testing.T, dir string) *Cluster {
	t.Helper()
	c, err := Open(t.Context(), Options{Dir: dir})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, c.Stop()) })
	return c
}

// query runs SQL that yields one text value.
func query(c *Cluster, db, sql string) (string, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, c.DSN(db, ""))
	if err != nil {
		return "", err
	}
	defer conn.Close(ctx)
	var s string
	err = conn.QueryRow(ctx, sql).Scan(&s)
	return s, err
}

// run runs any number of statements.
func run(t *testing.T, c *Cluster, db, sql string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), c.DSN(db, ""))
	require.NoError(t, err)
	defer conn.Close(t.Context())
	_, err = conn.Exec(t.Context(), sql)
	require.NoError(t, err)
}

func mustQuery(t *testing.T, c *Cluster, db, sql string) string {
	t.Helper()
	s, err := query(c, db, sql)
	require.NoError(t, err)
	return s
}

func requireNoServer(t *testing.T, dir string) {
	t.Helper()
	require.Eventually(t, func() bool { return len(serversIn(filepath.Join(dir, "postgres"))) == 0 },
		15*time.Second, 20*time.Millisecond, "a server is still running")
}
