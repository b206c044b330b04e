package atlas_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
)

var update = flag.Bool("update", false, "write the golden scenes anew")

// scenes are the maps whose composition is kept.
func scenes() map[string]atlas.Scene {
	square := func(x, y, w, h int32) [][]atlas.Point {
		return [][]atlas.Point{{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}}
	}
	words := atlas.Imprint{Title: "Teasel County", Totals: "3 bags", Edition: "Edition 1", Words: fixture.Words(3)}
	one := atlas.County{Imprint: words, Areas: []atlas.Area{{
		ID: 1, Code: "T1N R1E", Shape: atlas.Shape{square(0, 0, 9656, 9656)}, Mark: atlas.Mark{Standing: atlas.Found, Lines: 2, Of: 3},
	}}}
	islands := one
	islands.Areas = []atlas.Area{{
		ID: 1, Code: "T1N R1E", Mark: atlas.Mark{Standing: atlas.Found, Lines: 3, Of: 3},
		Shape: atlas.Shape{
			append(square(0, 0, 9656, 9656), square(2500, 2500, 3000, 3000)...),
			square(12000, 0, 2000, 2000),
		},
	}}
	tall := atlas.County{Imprint: words}
	for i := range 9 {
		tall.Areas = append(tall.Areas, atlas.Area{
			ID: i, Code: fmt.Sprintf("T%dN R1E", 9-i), Short: fmt.Sprintf("%d-1", 9-i), Shape: atlas.Shape{square(0, int32(-9656*i), 4000, 9656)},
			Mark: atlas.Mark{Standing: atlas.Standing(i % 4), Lines: 1 + i%3, Of: 3},
		})
	}
	district, recalled, office := fixture.County(3), fixture.County(3), fixture.County(3)
	district.Joined = []atlas.Joined{{Shape: district.Outline, Mark: atlas.Mark{Standing: atlas.Found, Lines: 3, Of: 3}, Title: "The whole county"}}
	for i := range district.Areas {
		if i%5 > 0 {
			district.Areas[i].Mark = atlas.Mark{}
		}
		district.Joined[0].Members = append(district.Joined[0].Members, district.Areas[i].ID)
		recalled.Areas[i].Mark = atlas.Mark{Standing: atlas.Recalled}
	}
	office.Band = "Not for release"
	return map[string]atlas.Scene{
		"district":           atlas.ComposeCounty(district, atlas.TabloidWide),
		"recalled":           atlas.ComposeCounty(recalled, atlas.LetterWide),
		"office":             atlas.ComposeCounty(office, atlas.LetterTall),
		"thousands":          atlas.ComposeCounty(fixture.Thousands(), atlas.HalfLetter),
		"share":              atlas.ComposeCounty(fixture.Measured(atlas.ShareFound), atlas.TabloidTall),
		"new":                atlas.ComposeCounty(fixture.Measured(atlas.NewFigures), atlas.Screen),
		"years":              atlas.ComposeYears(office.Imprint, fixture.Years(6), atlas.LetterWide),
		"county-screen":      atlas.ComposeCounty(fixture.County(3), atlas.Screen),
		"county-phone":       atlas.ComposeCounty(fixture.County(3), atlas.Phone),
		"county-letter-tall": atlas.ComposeCounty(fixture.County(4), atlas.LetterTall),
		"classes-slide":      atlas.ComposeCounty(fixture.AllClasses(), atlas.Slide),
		"state-screen":       atlas.ComposeState(fixture.State(), atlas.Screen),
		"empty":              atlas.ComposeCounty(atlas.County{Imprint: words}, atlas.Screen),
		"one-township":       atlas.ComposeCounty(one, atlas.LetterWide),
		"hole-and-island":    atlas.ComposeCounty(islands, atlas.Screen),
		"tall-thin":          atlas.ComposeCounty(tall, atlas.Phone),
	}
}

func TestGoldenScenes(t *testing.T) {
	for name, s := range scenes() {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join("testdata", name+".scene")
			got := dump(s)
			if *update {
				require.NoError(t, os.MkdirAll("testdata", 0o755))
				require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err, "write it with -update")
			require.Equal(t, string(want), got, "look at the map, then write it anew with -update")
		})
	}
}

// dump writes a scene one item a line; outlines only by their first point and
// number of points, since they are what went in.
func dump(s atlas.Scene) string {
	var b strings.Builder
	fmt.Fprintf(&b, "scene %d×%d %q\n", s.Width, s.Height, s.Title)
	dumpItems(&b, s.Items, " ")
	return b.String()
}

func dumpItems(b *strings.Builder, items []atlas.Item, in string) {
	for _, it := range items {
		switch it := it.(type) {
		case atlas.Path:
			points, at := 0, atlas.XY{}
			for i, r := range it.Rings {
				if points += len(r); i == 0 && len(r) > 0 {
					at = r[0]
				}
			}
			fmt.Fprintf(b, "%spath %s %d rings %d points from %v fill %v stroke %v %d %v\n", in, it.Key, len(it.Rings), points, at, it.Fill, it.Stroke, it.Width, it.Dash)
		case atlas.Segments:
			if it.Kind == atlas.Furrows {
				fmt.Fprintf(b, "%sfurrows %v stroke %v %d %v\n", in, it.Lines, it.Stroke, it.Width, it.Dash)
				continue
			}
			fmt.Fprintf(b, "%ssegments %d kind %d stroke %v %d\n", in, len(it.Lines), it.Kind, it.Stroke, it.Width)
		case atlas.Text:
			fmt.Fprintf(b, "%stext %d,%d size %d face %d anchor %d turn %d %v %q\n", in, it.X, it.Y, it.Size, it.Face, it.Anchor, it.Turn, it.Paint, it.S)
		case atlas.Group:
			fmt.Fprintf(b, "%sgroup %d %s place %d %s %q %q\n", in, it.Kind, it.ID, it.Place, it.Mark, it.Title, it.Href)
			dumpItems(b, it.Items, in+" ")
		}
	}
}

// walk visits every item with the kind of the innermost place, joined or legend
// group around it.
func walk(items []atlas.Item, around atlas.GroupKind, see func(atlas.Item, atlas.GroupKind)) {
	for _, it := range items {
		see(it, around)
		if g, ok := it.(atlas.Group); ok {
			kind := around
			if g.Kind != atlas.LayerGroup {
				kind = g.Kind
			}
			walk(g.Items, kind, see)
		}
	}
}

// counties are maps with marks dealt at random, on every paper.
func counties(t *testing.T, see func(t *testing.T, c atlas.County, s atlas.Scene)) {
	r := rand.New(rand.NewPCG(2026, 11))
	for i := range 12 {
		of := 1 + i%atlas.MaxClasses
		c := fixture.County(of)
		for k := range c.Areas {
			if c.Areas[k].Mark.Standing != atlas.NoFigures {
				c.Areas[k].Mark = atlas.Mark{Standing: atlas.Standing(r.IntN(6)), Lines: 1 + r.IntN(of), Of: of}
			}
		}
		for _, p := range atlas.Papers() {
			t.Run(fmt.Sprintf("%d %s", i, p), func(t *testing.T) { see(t, c, atlas.ComposeCounty(c, p)) })
		}
	}
}

func TestFurrowsAreTheClass(t *testing.T) {
	counties(t, func(t *testing.T, c atlas.County, s atlas.Scene) {
		marks := map[int]atlas.Mark{}
		for _, a := range c.Areas {
			marks[a.ID] = a.Mark
		}
		walk(s.Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
			g, ok := it.(atlas.Group)
			if !ok || g.Kind != atlas.PlaceGroup {
				return
			}
			m := marks[g.Place]
			delete(marks, g.Place)
			require.Equal(t, m, g.Mark)
			lines, glyphs := 0, ""
			for _, it := range g.Items {
				switch it := it.(type) {
				case atlas.Segments:
					if it.Kind == atlas.Furrows {
						lines += len(it.Lines)
						require.Equal(t, m.Standing == atlas.Unconfirmed, it.Dash != nil, "only unconfirmed is broken")
					}
				case atlas.Text:
					if it.S == "0" || it.S == "r" {
						glyphs += it.S
					}
				}
			}
			want := map[atlas.Standing]int{atlas.Found: m.Lines, atlas.Unconfirmed: 1}[m.Standing]
			require.Equal(t, want, lines, "place %d", g.Place)
			require.Equal(t, map[atlas.Standing]string{atlas.NoneFound: "0", atlas.Recalled: "r"}[m.Standing], glyphs, "place %d", g.Place)
		})
		require.Empty(t, marks, "every place once")
	})
}

func TestMarkNames(t *testing.T) {
	for want, m := range map[string]atlas.Mark{
		"no-figures":  {},
		"none-found":  {Standing: atlas.NoneFound, Of: 3},
		"unconfirmed": {Standing: atlas.Unconfirmed, Of: 3},
		"found-2":     {Standing: atlas.Found, Lines: 2, Of: 3},
		"found-3":     {Standing: atlas.Found, Lines: 9, Of: 3},
		"found-1":     {Standing: atlas.Found},
		"recalled":    {Standing: atlas.Recalled},
		"waiting":     {Standing: atlas.Waiting},
		"earlier":     {Standing: atlas.Earlier},
		"measured-4":  {Standing: atlas.Measured, Lines: 4, Of: 5},
	} {
		require.Equal(t, want, m.String())
	}
}

func TestParsePaper(t *testing.T) {
	for _, p := range atlas.Papers() {
		got, err := atlas.ParsePaper(p.String())
		require.NoError(t, err)
		require.Equal(t, p, got)
	}
	_, err := atlas.ParsePaper("a4")
	require.ErrorContains(t, err, "atlas.ParsePaper")
}

// Whatever a boundary file holds, a map comes out: rings that cross themselves,
// repeat points or are lines, places far apart or on one spot.
func TestAnyShapesCompose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		far := rapid.SampledFrom([]int32{1, 50, 20000, 2_000_000_000}).Draw(t, "far")
		points := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) atlas.Point {
			return atlas.Point{X: rapid.Int32Range(-far, far).Draw(t, "x"), Y: rapid.Int32Range(-far, far).Draw(t, "y")}
		}), 0, 8)
		shape := rapid.SliceOfN(rapid.SliceOfN(points, 0, 2), 0, 2)
		c := atlas.County{Imprint: atlas.Imprint{Title: "Teasel", Words: fixture.Words(3)}}
		for i := range rapid.IntRange(0, 4).Draw(t, "areas") {
			c.Areas = append(c.Areas, atlas.Area{ID: i, Code: "T1N R1E", Short: "1-1", Shape: shape.Draw(t, "shape"),
				Mark:  atlas.Mark{Standing: atlas.Standing(rapid.IntRange(0, 9).Draw(t, "standing")), Lines: rapid.IntRange(-1, 9).Draw(t, "lines"), Of: rapid.IntRange(-1, 9).Draw(t, "of")},
				Value: "38%", First: rapid.Bool().Draw(t, "first")})
		}
		c.Joined = []atlas.Joined{{Shape: shape.Draw(t, "union"), Members: []int{0, 1}, Mark: atlas.Mark{Standing: atlas.Found, Lines: 2, Of: 3}}}
		c.Outline, c.Ridge = shape.Draw(t, "outline"), shape.Draw(t, "ridge")
		c.Neighbors = []atlas.Area{{Code: "Osier", Shape: shape.Draw(t, "neighbor")}}
		c.Water = []atlas.Line{{Name: "Alder", Path: points.Draw(t, "river")}}
		for _, p := range points.Draw(t, "towns") {
			c.Towns = append(c.Towns, atlas.Town{Name: "Hask", At: p})
		}
		s := atlas.ComposeCounty(c, rapid.SampledFrom(atlas.Papers()).Draw(t, "paper"))
		require.Positive(t, s.Height)
		places := 0
		walk(s.Items, atlas.LayerGroup, func(it atlas.Item, _ atlas.GroupKind) {
			if g, ok := it.(atlas.Group); ok && g.Kind == atlas.PlaceGroup {
				places++
			}
		})
		require.Equal(t, len(c.Areas), places)
	})
}
