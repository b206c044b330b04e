package gazette

import (
	"slices"
	"strconv"

	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// square is a shape of one polygon, for tests that do not look at it.
func square(x, y, size int32) atlas.Shape {
	return atlas.Shape{{{{X: x, Y: y}, {X: x + size, Y: y}, {X: x + size, Y: y + size}, {X: x, Y: y + size}}}}
}

// ground is an Issue of so many counties in a row, each of two districts of
// four townships, without figures. County n has id 100n, its districts 100n+1
// and 100n+2, its townships 100n+11 to 100n+18.
func ground(counties int) *Issue {
	issue := &Issue{Edition: Edition{Number: 4, Season: 2026, K: 3}, Scheme: assay.DefaultScheme()}
	for n := 1; n <= counties; n++ {
		id := place.ID(100 * n)
		c := County{
			Place:   place.Place{ID: id, Kind: place.County, Code: "00" + strconv.Itoa(n), Name: "County " + string(rune('A'+n-1)), Slug: "county-" + strconv.Itoa(n)},
			Outline: square(int32(n)*40000, 0, 40000),
		}
		for d := range 2 {
			district := id + place.ID(d) + 1
			c.Districts = append(c.Districts, District{ID: district, County: id, Outline: square(int32(n)*40000, int32(d)*20000, 20000)})
			for i := range 4 {
				k := 4*d + i + 1
				c.Townships = append(c.Townships, Township{
					Place: place.Place{ID: id + 10 + place.ID(k), Kind: place.Township, Code: "T" + strconv.Itoa(k) + "N R1E",
						Name: "Township " + strconv.Itoa(k), Slug: "township-" + strconv.Itoa(k), County: id},
					District: district, Outline: square(int32(n)*40000+int32(i)*10000, int32(d)*20000, 10000),
				})
			}
		}
		if n > 1 {
			c.Neighbors = append(c.Neighbors, id-100)
		}
		if n < counties {
			c.Neighbors = append(c.Neighbors, id+100)
		}
		issue.Counties = append(issue.Counties, c)
	}
	return issue
}

// tranche is one with the counts of its classes.
func tranche(county place.ID, kind edition.Kind, places []place.ID, counts ...int) edition.Tranche {
	t := edition.Tranche{Edition: 4, County: county, Kind: kind, Places: places, Senders: 3, Counts: counts,
		Window: edition.Window{Through: 2026}}
	for _, n := range counts {
		t.Samples += n
	}
	return t
}

// drawTranches are tranches such as a release could make, and some of places
// that the boundaries no longer have.
func drawTranches(t *rapid.T, issue *Issue) []edition.Tranche {
	n := rapid.IntRange(0, 25).Draw(t, "tranches")
	out := make([]edition.Tranche, n)
	for i := range out {
		c := rapid.SampledFrom(issue.Counties).Draw(t, "county")
		kind := rapid.SampledFrom([]edition.Kind{edition.KindTownship, edition.KindDistrict, edition.KindRemainder}).Draw(t, "kind")
		var places []place.ID
		switch kind {
		case edition.KindTownship:
			places = []place.ID{rapid.SampledFrom(append(ids(c.Townships), c.ID+99)).Draw(t, "township")}
		case edition.KindDistrict:
			d := rapid.SampledFrom(c.Districts).Draw(t, "district")
			for _, tw := range c.Townships {
				if tw.District == d.ID {
					places = append(places, tw.ID)
				}
			}
			if rapid.IntRange(0, 9).Draw(t, "old boundaries") == 0 {
				places = append(places[1:], c.ID+98)
			}
			places = rapid.Permutation(places).Draw(t, "places")
		case edition.KindRemainder:
			places = []place.ID{c.ID}
		}
		classes := len(issue.Scheme.Classes)
		coarse := rapid.IntRange(0, 4).Draw(t, "coarse") == 0
		if coarse {
			classes = 3
		}
		counts := rapid.SliceOfN(rapid.IntRange(0, 4), classes, classes).Draw(t, "counts")
		if !slices.ContainsFunc(counts, func(n int) bool { return n > 0 }) {
			counts[0] = 3
		}
		out[i] = tranche(c.ID, kind, places, counts...)
		out[i].ID, out[i].Coarse = i+1, coarse
		out[i].Window = edition.Window{ThisFall: rapid.Bool().Draw(t, "this fall"), Through: rapid.IntRange(2020, 2026).Draw(t, "through")}
	}
	return out
}

func ids(townships []Township) []place.ID {
	var out []place.ID
	for _, t := range townships {
		out = append(out, t.ID)
	}
	return out
}
