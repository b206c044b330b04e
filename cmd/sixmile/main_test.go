package main

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
)

// try runs a command line in this process.
func try(t *testing.T, stdin string, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	code = run(ctx, args, console{&o, &e, strings.NewReader(stdin)})
	return code, o.String(), e.String()
}

// folder is a data folder that a server that is not root's can reach.
func folder(t *testing.T) string {
	t.Helper()
	d, err := os.MkdirTemp("/tmp", "sixmile-test-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(d, 0o755))
	t.Cleanup(func() { os.RemoveAll(d) })
	return filepath.Join(d, "data")
}

func TestHelpAndWrongWords(t *testing.T) {
	code, out, _ := try(t, "")
	require.Zero(t, code)
	for _, c := range []string{"demo", "serve", "boundaries load", "bags issue", "staff add", "health"} {
		require.Contains(t, out, c)
		code, help, _ := try(t, "", append(strings.Fields(c), "--help")...)
		require.Zero(t, code, c)
		require.Contains(t, help, "--help", c)
	}
	code, _, errs := try(t, "", "plow")
	require.Equal(t, 2, code)
	require.Contains(t, errs, "plow")
	t.Setenv("DATABASE_URL", "")
	code, _, errs = try(t, "", "serve")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "--data")
	code, _, errs = try(t, "", "health", "http://127.0.0.1:1")
	require.Equal(t, 1, code)
	require.NotEmpty(t, errs)
}

// Every level that a table of one's own may have has its word in both languages.
func TestLevelsHaveWords(t *testing.T) {
	for _, name := range foundLevels {
		for _, lang := range []*catalog.Lang{catalog.English(), catalog.Spanish()} {
			require.True(t, lang.Has("level."+name), "%s %s", lang.Key(), name)
		}
	}
}

// An office sets itself up from nothing with the commands alone.
func TestSettingUpAnOffice(t *testing.T) {
	data := "--data=" + folder(t)
	dir := t.TempDir()
	counties, townships := filepath.Join(dir, "c.geojson"), filepath.Join(dir, "t.geojson")
	square := func(x, y, w string) string {
		return `{"type":"Polygon","coordinates":[[[` + x + `,40],[` + w + `,40],[` + w + `,` + y + `],[` + x + `,` + y + `],[` + x + `,40]]]}`
	}
	require.NoError(t, os.WriteFile(counties, []byte(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"code":"001","name":"Amber"},"geometry":`+square("-40", "40.1", "-39.8")+`}]}`), 0o600))
	require.NoError(t, os.WriteFile(townships, []byte(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"code":"T1N R1E","name":"West","county":"001"},"geometry":`+square("-40", "40.1", "-39.9")+`},
		{"type":"Feature","properties":{"code":"T1N R2E","name":"East","county":"001"},"geometry":`+square("-39.9", "40.1", "-39.8")+`}]}`), 0o600))

	code, _, errs := try(t, "", "serve", data, "--listen=127.0.0.1:0")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "sixmile found")
	for _, c := range []struct {
		stdin, says string
		args        []string
	}{
		{"", "Next: boundaries load", []string{"found", data, "--name=Soil Watch", "--state=Nowhere"}},
		{"", "low to 2000, moderate to 12000, high over 12000 eggs per 100 cm³", []string{"levels", "list", data}},
		{"", "our_state_2026, version 1\n    Our state, 2026", []string{"levels", "add", data, "our_state_2026", "--title=Our state, 2026", "--source=Invented",
			"--per=250", "--trace=250", "--level=low=1250", "--level=moderate=10,000", "--level=very_high"}},
		{"", "low to 500, moderate to 4000, very high over 4000 eggs per 100 cm³; unconfirmed to 100", []string{"levels", "use", data, "our_state_2026"}},
		{"", "2 townships", []string{"boundaries", "load", data, "--counties", counties, "--townships", townships, "--accept"}},
		{"", "accepted before", []string{"boundaries", "load", data, "--counties", counties, "--townships", townships}},
		{"", "fall of 2026", []string{"season", data, "2026", "--opens=2026-08-15", "--closes=2027-06-30"}},
		{"", "bags at", []string{"office", data, "Amber", "--address=1 Main Street", "--hours=8 to 5", "--drop-off=Front desk"}},
		{"", "in 3 bundles", []string{"bags", "issue", data, "--county=amber", "--season=2026", "--bags=7"}},
		{"a long enough phrase\n", "may sign in", []string{"staff", "add", data, "coord", "--name=Coordinator", "--role=coordinator"}},
	} {
		code, out, errs := try(t, c.stdin, c.args...)
		require.Zero(t, code, "%v: %s", c.args, errs)
		require.Contains(t, out, c.says, "%v", c.args)
	}
	for _, c := range []struct {
		stdin, says string
		args        []string
	}{
		{"short\n", "at least 10", []string{"staff", "add", data, "x1", "--name=X", "--role=technician"}},
		{"a long enough phrase\n", "taken", []string{"staff", "add", data, "coord", "--name=X", "--role=technician"}},
		{"", "--county: ", []string{"staff", "add", data, "x2", "--name=X", "--role=clerk"}},
		{"", "--role is clerk", []string{"staff", "add", data, "x2", "--name=X", "--role=chief"}},
		{"", "no county", []string{"bags", "issue", data, "--county=Plaid", "--season=2026", "--bags=7"}},
		{"", "no level table", []string{"levels", "use", data, "plaid"}},
		{"", "no level; levels are trace, very_low", []string{"levels", "add", data, "x", "--title=X", "--source=X", "--level=plaid=2000", "--level=high"}},
		{"", "every level but the last", []string{"levels", "add", data, "x", "--title=X", "--source=X", "--level=low", "--level=high"}},
		{"", "from the lowest up", []string{"levels", "add", data, "x", "--title=X", "--source=X", "--level=low=2000", "--level=moderate=1000", "--level=high"}},
		{"", "over the first level", []string{"levels", "add", data, "x", "--title=X", "--source=X", "--level=low=100", "--level=high"}},
		{"", "small letters", []string{"levels", "add", data, "Our-State", "--title=X", "--source=X", "--level=low=1000", "--level=high"}},
		{"", "closes after", []string{"season", data, "2027", "--opens=2027-08-15", "--closes=2026-06-30"}},
	} {
		code, _, errs := try(t, c.stdin, c.args...)
		require.Equal(t, 1, code, "%v", c.args)
		require.Contains(t, errs, c.says, "%v", c.args)
	}
}

// The demo is built once, found again, served beside another, and stops
// cleanly; its pages answer.
func TestDemo(t *testing.T) {
	data := folder(t)
	code, _, errs := try(t, "", "demo", "--only", "--data="+data)
	require.Zero(t, code, errs)
	require.Contains(t, errs, "Built in")
	code, _, errs = try(t, "", "demo", "--only", "--data="+data)
	require.Zero(t, code, errs)
	require.Contains(t, errs, "there already")
	code, out, errs := try(t, "", "edition", "list", "--demo", "--data="+data)
	require.Zero(t, code, errs)
	require.Equal(t, 12, strings.Count(out, "\n"), out)
	code, _, errs = try(t, "", "edition", "files", "13", "--demo", "--data="+data)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "there is no edition 13")
	code, _, errs = try(t, "", "edition", "restate", "--scheme=isu_2008_soybean_next", "--demo", "--data="+data)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "sixmile: the level table \"isu_2008_soybean_next\" is in force already")
	require.NoFileExists(t, filepath.Join(data, "witness.jsonl"), "of the demo nothing is witnessed")

	ctx, cancel := context.WithCancel(context.Background())
	outs := []*lockedBuffer{{}, {}} // two on the same folder
	done := make(chan int, len(outs))
	for _, o := range outs {
		go func() {
			done <- run(ctx, []string{"demo", "--data=" + data, "--listen=127.0.0.1:0"}, console{o, io.Discard, strings.NewReader("")})
		}()
	}
	for _, o := range outs {
		base := o.address(t)
		for path, want := range map[string]int{"/healthz": 200, "/": 200, "/send": 200, "/nothing-here": 404} {
			res, err := http.Get(base + path)
			require.NoError(t, err)
			require.Equal(t, want, res.StatusCode, path)
			require.NoError(t, res.Body.Close())
		}
	}
	cancel()
	for range outs {
		require.Zero(t, <-done)
	}
}
