package parcel

import (
	"bytes"
	"context"
	"io"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geom"

	"sixmile/internal/annual"
	"sixmile/internal/annual/fixture"
	"sixmile/internal/catalog"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// land has squares for the places it is made of.
type land struct{ issue *gazette.Issue }

func (l land) ids(kind place.Kind) (out []place.ID) {
	for _, c := range l.issue.Counties {
		if kind == place.County {
			out = append(out, c.ID)
			continue
		}
		for _, t := range c.Townships {
			out = append(out, t.ID)
		}
	}
	return out
}

func (l land) Outlines(_ context.Context, _ int, kind place.Kind, see func(place.ID, *geom.MultiPolygon, float64) error) error {
	return outlines(l.ids(kind), see)
}

func outlines(ids []place.ID, see func(place.ID, *geom.MultiPolygon, float64) error) error {
	for _, id := range ids {
		x := float64(id) / 1000
		ring := []float64{x, 40, x + .1, 40, x + .1, 40.1, x, 40.1, x, 40}
		if err := see(id, geom.NewMultiPolygonFlat(geom.XY, ring, [][]int{{10}}), 93); err != nil {
			return err
		}
	}
	return nil
}

// ordered hands on the same places in an order of its own.
type ordered struct{ change func([]place.ID) []place.ID }

func (o ordered) Outlines(_ context.Context, _ int, kind place.Kind, see func(place.ID, *geom.MultiPolygon, float64) error) error {
	return outlines(o.change(land{fixture.Issue()}.ids(kind)), see)
}

func book(t *testing.T) annual.Book[annual.Public] {
	t.Helper()
	x, err := gazette.NewIndex(fixture.Issue())
	require.NoError(t, err)
	b, err := annual.ForPublic(catalog.English(), x, annual.Period{Year: 2026})
	require.NoError(t, err)
	return b
}

func TestSameEditionSameBytes(t *testing.T) {
	var first, again bytes.Buffer
	seen := 0
	o := Options{Lang: catalog.English(), Land: land{fixture.Issue()}, Program: Program{Name: "Soil Watch", State: "Nowhere", Invented: true},
		Progress: func(done, of int, _ string) { require.LessOrEqual(t, done, of); seen++ }}
	require.NoError(t, Write(t.Context(), &first, book(t), o))
	require.NoError(t, Write(t.Context(), &again, book(t), o))
	require.True(t, bytes.Equal(first.Bytes(), again.Bytes()))
	require.Greater(t, seen, 20, "progress")
	ctx, cancel := context.WithCancel(t.Context())
	o.Progress = func(done, _ int, _ string) {
		if done == 2 {
			cancel()
		}
	}
	require.ErrorIs(t, Write(ctx, io.Discard, book(t), o), context.Canceled)
}

// Each outline gets the row of its own place, in whatever order they come; a place
// that only one side has is an error.
func TestRowsMeetTheirOutlines(t *testing.T) {
	issue := fixture.Issue()
	names := make(map[place.ID]string)
	for _, c := range issue.Counties {
		for _, town := range c.Townships {
			names[town.ID] = c.Name + " " + town.Code
		}
	}
	draw := func(l Land) (got map[int]string, err error) {
		p := &parcel[annual.Public]{b: book(t), o: Options{Lang: catalog.English(), Land: l}}
		p.words = newWords(p.o, p.b.Index(), p.b.Period, p.b.Name())
		got = make(map[int]string)
		for _, d := range p.drawn() {
			if d.table.Drawn != place.Township {
				continue
			}
			county, code := d.table.Column("county"), d.table.Column("township_code")
			err = p.draw(t.Context(), d).Each(func(row []any, outline *geom.MultiPolygon) error {
				got[int(outline.FlatCoords()[0]*1000+0.5)] = row[county].(string) + " " + row[code].(string)
				return nil
			})
		}
		return got, err
	}
	for name, change := range map[string]func([]place.ID) []place.ID{
		"in order":   func(ids []place.ID) []place.ID { return ids },
		"backward":   func(ids []place.ID) []place.ID { slices.Reverse(ids); return ids },
		"last first": func(ids []place.ID) []place.ID { return append(ids[len(ids)-1:], ids[:len(ids)-1]...) },
	} {
		got, err := draw(ordered{change})
		require.NoError(t, err, name)
		require.Len(t, got, len(names), name)
		for id, want := range names {
			require.Equal(t, want, got[int(id)], name)
		}
	}
	for name, change := range map[string]func([]place.ID) []place.ID{
		"one too few":  func(ids []place.ID) []place.ID { return ids[1:] },
		"last missing": func(ids []place.ID) []place.ID { return ids[:len(ids)-1] },
		"one too many": func(ids []place.ID) []place.ID { return append(ids, 77) },
		"one twice":    func(ids []place.ID) []place.ID { return append(ids, ids[0]) },
	} {
		_, err := draw(ordered{change})
		require.ErrorIs(t, err, errLand, name)
	}
}
