package world

import "math/rand/v2"

// sixMiles is the side of a township: 6 × 1609.344 m, in millimeters.
const sixMiles int64 = 6 * 1609344

// The grid of the state: columns from west to east, rows from south to north.
const (
	columns = 18
	rows    = 14
	// Township and range numbers of column 0, row 0: the base line lies eight
	// townships south of the state, the meridian is its west edge.
	firstTier  = 9
	firstRange = 1
)

// plan says which county each cell is in, north row first. Cells cut by a
// border take their county from the border instead.
var plan = [rows]string{
	"...AABBBBBCCCCDDDD",
	".AAAABBBBBCCCCDDDD",
	"AAAAAABBBBCCCCDDDD",
	"AAAAAABBBBCCCCDDDD",
	"EEEEEFFFGGGGGHHHHH",
	"EEEEEFFFGGGGGHHHHH",
	".EEEEFFFGGGGGHHHHH",
	".EEEEFFFGGGGGHHHHH",
	"IIEEEFFFGGGGGHHHHH",
	"IIIIIJJJJKKKKLLLLL",
	"IIIIIJJJJKKKKLLLLL",
	"IIIIJJJJJKKKKLLLLL",
	"IIIIJJJJJKKKKKLLLL",
	"IIIIJJJJJKKKKKLLLL",
}

// at is a point of the plan in cells east and north of its southwest corner.
type at struct{ col, row float64 }

func (a at) pt() pt {
	return pt{roundMM(a.col * float64(sixMiles)), roundMM(a.row * float64(sixMiles))}
}

func roundMM(v float64) int64 { return int64(v + 0.5) } // the plan has no negative places

// eastRiver is the border river, from the southern survey line to the north.
var eastRiver = []at{
	{16.1, 0.35}, {16.4, 1.1}, {15.85, 2.2}, {16.6, 3.6}, {16.2, 4.8}, {16.8, 6.5},
	{16.4, 7.7}, {17.15, 9.3}, {16.85, 10.7}, {17.55, 12.4}, {17.3, 14},
}

// innerRiver runs from near the entry corner to the border river. From
// innerBorderFrom to innerBorderTo it is a county line.
var innerRiver = []at{
	{1.7, 12.6}, {2.6, 11.4}, {3.9, 10.7}, {4.45, 10}, {4.7, 9.2}, {4.3, 8.3},
	{4.72, 7.3}, {4.3, 6.3}, {4.6, 5}, {5.6, 4.3}, {7, 3.6}, {8.8, 3.2},
	{10.6, 2.4}, {12.4, 2.6}, {14.2, 1.8}, {15.85, 2.2},
}

const innerBorderFrom, innerBorderTo = 3, 8

// southLine is the straight survey line that ends the state in the south.
var southLine = []at{{0, 0.62}, {16.1, 0.35}}

// oldLine is a county line surveyed before the townships, which it cuts.
var oldLine = []at{{12.42, 5}, {12.42, 10}}

// ridgeAxis is the middle of the soil ridge, ridgeHalf its half width in cells
// at each point.
var (
	ridgeAxis = []at{{5.6, 1.6}, {7.4, 4.2}, {9.6, 6.4}, {11.2, 9}, {13.4, 11.2}, {14.4, 12.9}}
	ridgeHalf = []float64{0.5, 1.1, 1.3, 1.2, 0.9, 0.4}
)

// entry is where the nematode came in.
var entry = at{0.8, 11.6}

// meander bends a line of the plan like a river: the middle of every piece is
// pushed sideways by up to an eighth of its length, three times over. The
// points of the plan stay. (The conversions keep processors from fusing the
// multiplication with the sum, which would round differently.)
func meander(line []at, rng *rand.Rand) []at {
	for range 3 {
		bent := []at{line[0]}
		for i := 1; i < len(line); i++ {
			p, q := line[i-1], line[i]
			push := float64(rng.IntN(2001)-1000) / 8000
			bent = append(bent, at{
				(p.col+q.col)/2 - float64(push*(q.row-p.row)),
				(p.row+q.row)/2 + float64(push*(q.col-p.col)),
			}, q)
		}
		line = bent
	}
	return line
}

func points(line []at) []pt {
	out := make([]pt, len(line))
	for i, a := range line {
		out[i] = a.pt()
	}
	return out
}
