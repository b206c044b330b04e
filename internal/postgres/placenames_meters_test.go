package postgres_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/postgres/pgtest"
)

// The browser's projection is tested against testdata of package web/open; this
// holds those figures to PostGIS (ST_Transform, by PROJ). SIXMILE_UPDATE=1 makes
// them again.
func TestMetersForTheBrowser(t *testing.T) {
	type meters struct {
		Lon, Lat float64
		Zone     int
		South    bool
		X, Y     float64
	}
	const file = "../../web/open/testdata/meters.json"
	admin := open(t, pgtest.Database(t).Admin)
	var want []meters
	for _, zone := range []int{1, 14, 15, 16, 17, 60} {
		middle := float64(6*zone - 183)
		for _, off := range []float64{-5.9, -3, -0.01, 0, 1.234567, 5.9} {
			for _, lat := range []float64{-38.5, 29.987654, 41.6, 48.99} {
				m := meters{Lon: math.Round((middle+off)*1e7) / 1e7, Lat: lat, Zone: zone, South: lat < 0}
				srid := 32600 + zone
				if m.South {
					srid += 100
				}
				require.NoError(t, admin.QueryRow(ctxOf(t), `
					SELECT ST_X(p), ST_Y(p) FROM (SELECT ST_Transform(ST_SetSRID(ST_MakePoint($1, $2), 4326), $3::int) AS p) q`,
					m.Lon, m.Lat, srid).Scan(&m.X, &m.Y))
				want = append(want, m)
			}
		}
	}
	if os.Getenv("SIXMILE_UPDATE") != "" {
		data, err := json.MarshalIndent(want, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(file, append(data, '\n'), 0o644))
	}
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	var kept []meters
	require.NoError(t, json.Unmarshal(data, &kept))
	require.Len(t, kept, len(want))
	for i, k := range kept {
		require.InDelta(t, want[i].X, k.X, 0.001)
		require.InDelta(t, want[i].Y, k.Y, 0.001)
		want[i].X, want[i].Y = k.X, k.Y
		require.Equal(t, want[i], k)
	}
}
