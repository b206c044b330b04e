package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/cluster"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/yardstick"
)

// scratch gives addresses of new databases on a cluster that is thrown away.
func scratch(t *testing.T) func(name string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	t.Cleanup(cancel)
	c, err := cluster.Open(ctx, cluster.Options{Throwaway: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, c.Stop()) })
	return func(name string) string {
		_, err := c.CreateDatabase(ctx, name)
		require.NoError(t, err)
		return "--url=" + c.DSN(name, "")
	}
}

// released is a program with one edition, of many results.
func released(t *testing.T, url string) {
	t.Helper()
	code, _, errs := try(t, "", "found", url, "--name=Soil Watch", "--state=Nowhere")
	require.Zero(t, code, errs)
	ctx := context.Background()
	o, err := database{URL: strings.TrimPrefix(url, "--url=")}.open(ctx, os.Stderr)
	require.NoError(t, err)
	defer func() { require.NoError(t, o.close()) }()
	require.NoError(t, yardstick.Load(ctx, o.logins, 1500))
	store := postgres.NewReleases(o.staff)
	p, err := store.Preview(ctx, yardstick.Cutoff, yardstick.Day)
	require.NoError(t, err)
	_, err = store.Release(ctx, p.Number, yardstick.Cutoff, yardstick.Day, p.Stamp, account.ID{})
	require.NoError(t, err)
}

// The drill: a backup is written, looked over, and put back three ways; what was
// taken back since stays taken back.
func TestRestoreDrill(t *testing.T) {
	database, dir := scratch(t), t.TempDir()
	file, witness := filepath.Join(dir, "night.backup"), "--witness="+filepath.Join(dir, "witness.jsonl")
	first := database("first")
	good := func(says string, args ...string) {
		t.Helper()
		began := time.Now()
		code, out, errs := try(t, "", args...)
		require.Zero(t, code, "%v: %s%s", args, out, errs)
		require.Contains(t, out, says, "%v", args)
		t.Logf("drill: %s %s: %.1f s", args[0], filepath.Base(args[1]), time.Since(began).Seconds())
	}
	bad := func(says string, args ...string) {
		t.Helper()
		code, out, errs := try(t, "", args...)
		require.Equal(t, 1, code, "%v: %s", args, out)
		require.Contains(t, errs, says, "%v", args)
	}
	released(t, first)
	good("1500 samples, 1 edition", "backup", file, first, witness)
	st, err := os.Stat(file)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), st.Mode().Perm(), "for its owner's eyes")
	t.Logf("drill: a backup of 1,500 samples is %d bytes", st.Size())
	bad("there already", "backup", file, first, witness)
	good("as released", "backup", "verify", file)
	good("", "edition", "recall", "1/1", "--reason=counting", first, witness)

	bad("holds a program", "restore", file, first, witness)
	good("1 recall", "restore", file, "--over", first, witness)
	good("1 group taken back", "edition", "list", first, witness)
	require.FileExists(t, file+".before-restore")

	// On another machine, with the witness and without it.
	good("1 recall", "restore", file, database("second"), witness)
	third := database("third")
	good("no witness to ask", "restore", file, third)
	good("no witness to ask", "restore", file, database("fourth"), "--witness="+filepath.Join(dir, "not-there.jsonl"))
	bad("lost what was public", "edition", "list", third, witness)
	good("1 recall", "restore", third, witness)
	good("1 group taken back", "edition", "list", third, witness)

	// One that was broken off is not served, and is begun again.
	require.NoError(t, postgres.SetMark(context.Background(), strings.TrimPrefix(third, "--url="), postgres.NotLookedOver))
	bad("not finished", "serve", third, witness, "--listen=127.0.0.1:0")
	good("Restored", "restore", file, third, witness)

	// A file that is none, and one that was cut off.
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	cut := filepath.Join(dir, "cut.backup")
	require.NoError(t, os.WriteFile(cut, whole[:len(whole)/2], 0o600))
	bad("no good backup", "backup", "verify", cut)
	bad("no good backup", "restore", cut, "--over", third, witness)
	good("1 group taken back", "edition", "list", third, witness)
}

// A torn last line is cut off and said again whole; two servers write one file.
func TestWitnessAfterAPowerCut(t *testing.T) {
	url, name := scratch(t)("torn"), filepath.Join(t.TempDir(), "witness.jsonl")
	released(t, url)
	code, _, errs := try(t, "", "edition", "list", url, "--witness="+name)
	require.Zero(t, code, errs)
	whole, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, 1, bytes.Count(whole, []byte{'\n'}))
	for _, n := range []int{1, len(whole) / 2, len(whole) - 1} {
		require.NoError(t, os.WriteFile(name, whole[:n], 0o600))
		code, _, errs := try(t, "", "edition", "list", url, "--witness="+name)
		require.Zero(t, code, errs)
		mended, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Equal(t, whole, mended, "torn at %d", n)
	}
	require.NoError(t, os.WriteFile(name, append([]byte("damage\n"), whole...), 0o600))
	code, _, errs = try(t, "", "edition", "list", url, "--witness="+name)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "line 1")
}

func TestNightly(t *testing.T) {
	day := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	names := []string{"sixmile-2026-11-25.backup", "sixmile-2026-11-12.backup", "sixmile-2026-11-11.backup", "sixmile-2024-01-01.backup",
		"sixmile-2026-11-01.backup.part", "notes.txt", "sixmile-2026-99-01.backup", "sixmile-2031-01-01.backup"}
	require.Equal(t, []string{"sixmile-2026-11-11.backup", "sixmile-2024-01-01.backup"}, expired(names, day, 14))
	for _, n := range []int{0, -1, mostNights + 1} {
		require.Error(t, nightly{Nights: n}.check())
	}

	url := scratch(t)("nights")
	code, _, errs := try(t, "", "found", url, "--name=Soil Watch", "--state=Nowhere")
	require.Zero(t, code, errs)
	n := nightly{Backups: filepath.Join(t.TempDir(), "kept"), Nights: 3}
	require.NoError(t, n.check())
	require.Equal(t, -1.0, n.age(day))
	admin := strings.TrimPrefix(url, "--url=")
	for i := range 6 {
		for range 2 { // the same night twice: one file
			require.NoError(t, n.tonight(context.Background(), admin, day.AddDate(0, 0, i)))
		}
	}
	kept, err := n.names()
	require.NoError(t, err)
	require.Equal(t, []string{"sixmile-2026-11-28.backup", "sixmile-2026-11-29.backup", "sixmile-2026-11-30.backup"}, kept)
	require.Equal(t, 1.0, n.age(day.AddDate(0, 0, 6)))
}
