package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/postgres"
)

// smallGround writes two counties of nine townships each, of a twentieth of a
// degree or so.
func smallGround(t *testing.T, dir string) (counties, townships string) {
	t.Helper()
	rect := func(props string, x, y, w, h float64) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":"Polygon","coordinates":[[[%[2]f,%[3]f],[%[4]f,%[3]f],[%[4]f,%[5]f],[%[2]f,%[5]f],[%[2]f,%[3]f]]]}}`,
			props, x, y, x+w, y+h)
	}
	var c, s []string
	for i := range 2 {
		left := -40 + 0.18*float64(i)
		c = append(c, rect(fmt.Sprintf(`"code":"%d","name":"County %c"`, i+1, 'A'+i), left, 40, 0.18, 0.18))
		for j := range 9 {
			s = append(s, rect(fmt.Sprintf(`"code":"T%dN R%dE","name":"T%[1]dN R%[2]dE","county":"%[3]d"`, j/3+1, 3*i+j%3+1, i+1),
				left+0.06*float64(j%3), 40+0.06*float64(j/3), 0.06, 0.06))
		}
	}
	write := func(name string, features []string) string {
		p := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(p, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`), 0o600))
		return p
	}
	return write("c.geojson", c), write("t.geojson", s)
}

// traces lists which of the marks stand in any file below a folder.
func traces(t *testing.T, dir string, marks map[string][]byte) (found []string, read int64) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		read += int64(len(b))
		for what, mark := range marks {
			if bytes.Contains(b, mark) {
				found = append(found, what+" in "+filepath.Base(filepath.Dir(path))+"/"+filepath.Base(path))
			}
		}
		return nil
	}))
	return found, read
}

// What a file of past results holds beyond fall, place, figure and method is in
// no file of the database: not in its tables, its write-ahead log, its log or its
// temporary files, although the server is told to log every error, and some
// points cannot be transformed.
func TestPastResultsLeaveNoTrace(t *testing.T) {
	ctx, dir, data := context.Background(), t.TempDir(), folder(t)
	counties, townships := smallGround(t, dir)
	step := func(code int, says string, args ...string) {
		t.Helper()
		var out bytes.Buffer
		got := run(ctx, append(args, "--data="+data), console{&out, &out, strings.NewReader("")})
		require.Equal(t, code, got, out.String())
		require.Contains(t, out.String(), says)
	}
	o, err := database{Data: data}.open(ctx, os.Stderr) // keeps the server up
	require.NoError(t, err)
	defer o.close() //nolint:errcheck // the folder goes with the test
	for _, setting := range []string{"log_min_messages = 'notice'", "log_min_error_statement = 'error'", "log_parameter_max_length_on_error = -1"} {
		asAdmin(t, ctx, o, `ALTER DATABASE sixmile SET `+setting)
	}
	step(0, "Next", "found", "--name=Soil Watch", "--state=Nowhere")
	step(0, "Boundary set 1", "boundaries", "load", "--counties", counties, "--townships", townships, "--accept")

	marks := map[string][]byte{}
	head := "date,township,lon,lat,eggs per 100 cc,farm"
	file := []string{head}
	float := func(what string, v float64) {
		marks[what+" as text"] = []byte(fmt.Sprintf("%.6f", math.Abs(v)))
		marks[what+" as sent"] = binary.BigEndian.AppendUint64(nil, math.Float64bits(v))
		marks[what+" as stored"] = binary.LittleEndian.AppendUint64(nil, math.Float64bits(v))
	}
	for i := range 600 {
		lon, lat := -39.999117+0.000553*float64(i), 40.000331+0.000271*float64(i)
		if i%40 == 0 {
			float(fmt.Sprint("longitude ", i), lon)
			float(fmt.Sprint("latitude ", i), lat)
		}
		file = append(file, fmt.Sprintf("1998-11-23,,%.6f,%.6f,%d,canaryfarm%d", lon, lat, i*7, i/3))
	}
	file = append(file, "1998-11-23,NE of the SW of 29 T2N R2E,,,77,canaryfarm5")
	for what, text := range map[string]string{"farm": "canaryfarm", "date": "1998-11-23", "legal description": "SW of 29", "another date": "11/24/1998"} {
		marks[what] = []byte(text)
	}
	good := filepath.Join(dir, "good.csv")
	require.NoError(t, os.WriteFile(good, []byte(strings.Join(file, "\n")), 0o600))
	step(1, "coordinate system", "history", "load", good, "--accept")
	step(0, "601 results loaded", "history", "load", good, "--crs=EPSG:4326", "--accept")
	step(0, "nothing was changed", "history", "load", good, "--crs=4326", "--accept")

	// Points that no transformation bears, and a system that is none.
	bad := filepath.Join(dir, "bad.csv")
	far := []float64{-7123456.654321, 9.876543219876e14, -88.123457}
	require.NoError(t, os.WriteFile(bad, []byte(fmt.Sprintf("%s\n11/24/1998,,%f,%f,1,canaryfarm1\n11/24/1998,,%f,%f,1,canaryfarm2\n", head, far[0], far[1], far[2], far[1])), 0o600))
	for i, v := range far {
		float(fmt.Sprint("far ", i), v)
	}
	for _, crs := range []string{"32624", "2163"} {
		step(1, "lies in no county", "history", "load", bad, "--crs="+crs, "--accept")
	}
	step(1, "no such coordinate system", "history", "load", bad, "--crs=987654", "--accept")

	asAdmin(t, ctx, o, `CHECKPOINT`)
	found, read := traces(t, data, marks)
	require.Empty(t, found)
	require.Greater(t, read, int64(10<<20), "the files were not read")
	log, err := os.ReadFile(filepath.Join(data, "server.log"))
	require.NoError(t, err)
	require.NotEmpty(t, log)

	// The search finds what is there: in a table, its write-ahead log and the log.
	asAdmin(t, ctx, o, fmt.Sprintf(`CREATE TABLE public.proof AS SELECT %.6f::float8 AS v, 'canaryfarm'::text AS t`, -39.999117))
	asAdmin(t, ctx, o, `DO $$ BEGIN RAISE WARNING 'canary%', 'farm'; END $$`)
	asAdmin(t, ctx, o, `CHECKPOINT`)
	found, _ = traces(t, data, marks)
	text := strings.Join(found, "\n")
	require.Contains(t, text, "farm in ")
	require.Contains(t, text, "farm in pg_wal/")
	require.Contains(t, text, "/server.log")
	require.Contains(t, text, "longitude 0 as stored in ")
}

// asAdmin runs a statement as the database's administrator, on a connection of
// its own so that settings of the database hold.
func asAdmin(t *testing.T, ctx context.Context, o *opened, sql string) {
	t.Helper()
	pool, err := postgres.Open(ctx, o.logins.Admin)
	require.NoError(t, err)
	defer pool.Close()
	_, err = pool.Exec(ctx, sql)
	require.NoError(t, err)
}
