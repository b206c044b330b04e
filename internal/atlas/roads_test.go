package atlas_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
)

// square is a county of one township, ten kilometers wide.
func roadCounty() atlas.County {
	s := atlas.Shape{{{{X: 0, Y: 0}, {X: 10000, Y: 0}, {X: 10000, Y: 10000}, {X: 0, Y: 10000}, {X: 0, Y: 0}}}}
	return atlas.County{Outline: s, Areas: []atlas.Area{{ID: 1, Code: "T1N R1E", Shape: s}},
		Imprint: atlas.Imprint{Title: "X", Words: atlas.Words{Road: "farm road", River: "stream"}}}
}

func across(order int, y int32) atlas.Line {
	return atlas.Line{Path: []atlas.Point{{X: -5000, Y: y}, {X: 15000, Y: y}}, Order: order}
}

func layersOf(s atlas.Scene) (out []string) {
	for _, it := range s.Items {
		if g, is := it.(atlas.Group); is && g.Kind == atlas.LayerGroup {
			out = append(out, g.ID)
		}
	}
	return out
}

func texts(items []atlas.Item) (out []string) {
	for _, it := range items {
		switch it := it.(type) {
		case atlas.Text:
			out = append(out, it.S)
		case atlas.Group:
			out = append(out, texts(it.Items)...)
		}
	}
	return out
}

// Roads stand under everything that carries a figure, in the order of their
// layers among the rivers, and in the legend when there are any.
func TestRoads(t *testing.T) {
	c := roadCounty()
	c.Water = []atlas.Line{across(1, 4000)}
	require.NotContains(t, layersOf(atlas.ComposeCounty(c, atlas.Screen)), "roads")
	require.NotContains(t, texts(atlas.ComposeCounty(c, atlas.Screen).Items), "farm road")

	c.Roads = []atlas.Line{across(1, 5000), across(1, 6000)}
	s := atlas.ComposeCounty(c, atlas.Screen)
	require.Contains(t, texts(s.Items), "farm road")
	at := func(s atlas.Scene, id string) int { return slices.Index(layersOf(s), id) }
	require.Less(t, at(s, "fills"), at(s, "roads"))
	require.Less(t, at(s, "roads"), at(s, "water"), "a river lies over a road of the same place in the order")
	mark := slices.IndexFunc(s.Items, func(it atlas.Item) bool { g, is := it.(atlas.Group); return is && g.Kind == atlas.PlaceGroup })
	road := slices.IndexFunc(s.Items, func(it atlas.Item) bool { g, is := it.(atlas.Group); return is && g.ID == "roads" })
	require.Less(t, road, mark)
	drawn := s.Items[road].(atlas.Group).Items
	require.Len(t, drawn, 2, "two edges and paper between")
	require.Len(t, drawn[0].(atlas.Path).Rings, 2)
	require.Greater(t, drawn[0].(atlas.Path).Width, drawn[1].(atlas.Path).Width)
	frame := drawn[0].(atlas.Path).Rings[0]
	require.Less(t, frame[len(frame)-1].X-frame[0].X, s.Width, "cut at the frame")

	c.Roads = append(c.Roads, across(7, 3000))
	s = atlas.ComposeCounty(c, atlas.Screen)
	require.Less(t, at(s, "water"), at(s, "roads1"), "a layer later in the order lies over it")
}
