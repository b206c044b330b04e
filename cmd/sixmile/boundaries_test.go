package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The counties of North Carolina as a shapefile (Debian package r-cran-sf) and
// two townships, from looking them over to the export, by the command line.
func TestBoundariesByCommandLine(t *testing.T) {
	const nc = "/usr/lib/R/site-library/sf/shape/nc.shp"
	dir := t.TempDir()
	data := "--data=" + folder(t)
	townships := filepath.Join(dir, "t.geojson")
	rect := func(code, x0, x1 string) string {
		return `{"type":"Feature","properties":{"code":"` + code + `"},"geometry":{"type":"Polygon","coordinates":[[[` +
			x0 + `,35.7],[` + x1 + `,35.7],[` + x1 + `,35.8],[` + x0 + `,35.8],[` + x0 + `,35.7]]]}}`
	}
	require.NoError(t, os.WriteFile(townships, []byte(`{"type":"FeatureCollection","features":[`+
		rect("T1N R1E", "-78.7", "-78.6")+","+rect("T1N R2E", "-78.6", "-78.5")+`]}`), 0o600))
	river := filepath.Join(dir, "r.geojson")
	require.NoError(t, os.WriteFile(river, []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"label":"Long Fork"},
		"geometry":{"type":"LineString","coordinates":[[-78.7,35.7],[-78.5,35.8]]}}]}`), 0o600))
	gpkg := filepath.Join(dir, "set.gpkg")
	load := []string{"boundaries", "load", data, "--counties", nc, "--townships", townships, "--county-code=FIPS", "--county-name=NAME"}
	for _, step := range []struct {
		args []string
		code int
		says string // to either stream
	}{
		{[]string{"found", data, "--name=Soil Watch", "--state=Nowhere"}, 0, "Next"},
		{[]string{"boundaries", "load", data, "--counties", nc, "--townships", townships}, 1, `no feature has a field called "code"; the fields are: AREA`},
		{append(load, "--dry-run"), 0, "The file is in the datum of 1927"},
		{append(load, "--dry-run", "--accept"), 2, "can't be used together"},
		{load, 1, "nothing was changed; to accept, run this again with --accept"},
		{[]string{"boundaries", "list", data}, 0, "No boundaries yet"},
		{[]string{"boundaries", "export", data, "--out", gpkg}, 1, "there is no such boundary set"},
		{append(load, "--accept"), 0, "Boundary set 1: 100 counties, 2 townships, cut into 1 districts."},
		{append(load, "--accept"), 0, "accepted before, as set 1"},
		{[]string{"boundaries", "layer", "add", data, "--kind=town", "--file", river}, 1, "feature 1 cannot be drawn as a town"},
		{[]string{"boundaries", "layer", "add", data, "--kind=river", "--file", river, "--name-field=name"}, 1, `no feature has a field called "name"; the fields are: label.`},
		{[]string{"boundaries", "layer", "add", data, "--kind=river", "--file", river, "--name-field=label"}, 0, "Rivers: 1 features."},
		{[]string{"boundaries", "list", data}, 0, "Layer 1, Rivers: 1 of kind river"},
		{[]string{"boundaries", "export", data, "--format=gpkg", "--out", gpkg}, 0, "104 features."},
		{[]string{"boundaries", "export", data, "--format=gpkg", "--out", gpkg}, 1, "file exists"},
		{[]string{"boundaries", "layer", "drop", data, "--title=Rivers"}, 0, ""},
		{[]string{"boundaries", "layer", "drop", data, "--title=Rivers"}, 1, `there is no layer called "Rivers"`},
	} {
		var out bytes.Buffer
		code := run(context.Background(), step.args, console{&out, &out, strings.NewReader("")})
		require.Equal(t, step.code, code, "%v: %s", step.args, out.String())
		require.Contains(t, out.String(), step.says, "%v", step.args)
	}
	about, err := exec.Command("ogrinfo", "-ro", "-so", gpkg, "layer Rivers").CombinedOutput()
	require.NoError(t, err, "%s", about)
	require.Contains(t, string(about), "Feature Count: 1\n")
	require.Contains(t, string(about), "Extent: (-78.700000, 35.700000) - (-78.500000, 35.800000)")
}
