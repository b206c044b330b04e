// Package talk makes the plain sentences an educator says in front of a room:
// eight to twelve of them, each made from the figures of one county and each true
// to its interval. A sentence is there only when its numbers support it.
//
// A Point names a sentence of the catalog and what to fill it with. The rules of
// which point is there, and in which of its forms, stand in one table (rules).
package talk

import (
	"slices"
	"strings"

	"sixmile/internal/stat"
)

// Facts are the figures of a county that sentences are made of. Strings are
// words of the reader's language, put in as they are; "" where there is nothing
// to say. Bags are those on the map.
type Facts struct {
	County, State string // as people say them: Plover County
	Edition       string // what the map before is called; "" for the first map

	Townships, Shown, WithFinds int // all; with figures of their own; of those with eggs
	Bags, Unconfirmed           int
	Share                       Share // of bags with eggs among those sure either way

	Fall *Fall // nil: not told

	Highest, HighestAt string // the highest level and where; "" without finds
	AtLeast            bool   // Highest is only the least it can be
	Typical            string // the level of the middle bag; "" where it is not known
	TypicalNone        bool   // it is none found
	Top                string // the table's highest level
	AtTop              Share  // bags at it among all bags; none where some finds are shown without their level

	FirstFinds   int // townships with eggs that had none on the map before
	FirstFindsAt string

	Part *Part

	Rest  *Difference // bags here, and in the rest of the state
	Trend *Trend

	Neighbors, NeighborsWithFinds int // counties next door with figures; of those with eggs
	StateCounties, StateWithFinds int // counties with figures; of those with eggs

	Missed int // eggs per 100 cm³ of soil at which one bag in twenty shows none; 0: not known

	Bagged string // where free bags are and until when, a sentence of its own
}

// Share is a number of bags of so many, with the interval of its share.
type Share struct {
	N, Of    int
	Interval stat.Interval
}

// perHundred is the interval in hundredths, rounded outward, so that what is said
// is never narrower than it.
func (s Share) perHundred() (low, high int) { return outward(s.Interval) }

// Fall is about how much came in this fall, rounded to fives. Few says that Finds
// is seven or fewer.
type Fall struct {
	Year        string
	Bags, Finds int
	Few         bool
}

// Part is the half of a county where the finds are.
type Part struct {
	Side, Across             string // "the north", "the south"
	Found, Shown             int
	FoundAcross, ShownAcross int
}

// Difference is how much larger the share Here is than There, in hundredths
// rounded outward.
type Difference struct {
	Here, There Share
	Low, High   int
}

// Trend is a Difference between now (Here) and an earlier map (There) in the
// townships that are on both.
type Trend struct {
	Difference
	Townships int
	Earlier   string // the earlier map's name
}

// Point is one sentence.
type Point struct {
	// ID names the point for choosing it: it is the same for every county and
	// edition.
	ID string
	// Key is the sentence's key under "talk."; N picks its plural form.
	Key  string
	N    int
	Args []any // name, value pairs
}

// Most is how many points there are at most.
const Most = 12

// Points says what the facts support, in the order of the rules. Where more than
// Most rules have something to say, those of least weight are silent.
func Points(f Facts) []Point {
	type ranked struct {
		Point
		weight int
	}
	var all []ranked
	for _, r := range rules {
		if s := r.say(f); s.key != "" {
			all = append(all, ranked{Point{ID: r.id, Key: s.key, N: s.n, Args: s.args}, r.weight})
		}
	}
	for len(all) > Most {
		least := 0
		for i := range all {
			if all[i].weight <= all[least].weight {
				least = i
			}
		}
		all = slices.Delete(all, least, least+1)
	}
	var out []Point
	for _, p := range all {
		out = append(out, p.Point)
	}
	return out
}

// Choose picks the points whose ids a reader listed, separated by commas, in the
// order of the points. Ids that are not there are passed over. "" picks all; a
// list of which nothing is left picks none.
func Choose(points []Point, list string) []Point {
	if list == "" {
		return points
	}
	wanted := strings.Split(list, ",")
	var out []Point
	for _, p := range points {
		if slices.Contains(wanted, p.ID) {
			out = append(out, p)
		}
	}
	return out
}

// IDs lists the points' ids as Choose reads them.
func IDs(points []Point) string {
	ids := make([]string, len(points))
	for i, p := range points {
		ids[i] = p.ID
	}
	return strings.Join(ids, ",")
}
