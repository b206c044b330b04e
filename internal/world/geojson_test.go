package world

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

// RFC 7946, read back with a JSON reader.
func TestGeoJSON(t *testing.T) {
	w := worlds[0]()
	for _, tt := range []struct {
		name, kind string
		text       []byte
		features   int
		properties []string
	}{
		{"counties", "Polygon", w.CountiesGeoJSON(), len(w.Counties), []string{"code", "name"}},
		{"townships", "Polygon", w.TownshipsGeoJSON(), len(w.Townships), []string{"code", "name", "county"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var got struct {
				Type     string
				Features []struct {
					Type       string
					Properties map[string]string
					Geometry   struct {
						Type        string
						Coordinates json.RawMessage
					}
				}
			}
			require.NoError(t, json.Unmarshal(tt.text, &got))
			require.Equal(t, "FeatureCollection", got.Type)
			require.Len(t, got.Features, tt.features)
			for i, f := range got.Features {
				require.Equal(t, tt.kind, f.Geometry.Type)
				require.Len(t, f.Properties, len(tt.properties))
				for _, p := range tt.properties {
					require.NotEmpty(t, f.Properties[p])
				}
				if tt.name == "townships" {
					var rings [][][2]float64
					require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, &rings))
					var r Ring
					for _, p := range rings[0] {
						r = append(r, LonLat{p[0], p[1]})
					}
					require.Equal(t, w.Townships[i].Outline.Outer, r)
				}
			}
			require.True(t, bytes.Equal(tt.text, textOf(worlds[1](), tt.name)), "the land is the same for every seed")
		})
	}
}

func textOf(w *World, layer string) []byte {
	if layer == "counties" {
		return w.CountiesGeoJSON()
	}
	return w.TownshipsGeoJSON()
}
