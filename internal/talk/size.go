package talk

import (
	"math"

	"sixmile/internal/stat"
)

// size is a word for a share: it may be said only of an interval that lies
// strictly inside its range, or reaches an end that is 0 or 1.
type size struct {
	key       string
	low, high float64
}

// sizes lists the words, those that say most first. Where none fits, the bags are
// too few for a word and only the interval is told. The words are common English
// for the fractions; which fractions is ours.
var sizes = []size{
	{"nearlyall", 0.90, 1},
	{"fewtenth", 0, 0.10},
	{"half", 0.40, 0.60},
	{"threequarters", 0.75, 1},
	{"quarter", 0, 0.25},
	{"twothirds", 2.0 / 3, 1},
	{"third", 0, 1.0 / 3},
	{"morehalf", 0.50, 1},
	{"lesshalf", 0, 0.50},
	{"twofifths", 0.40, 1},
	{"morequarter", 0.25, 1},
	{"moretenth", 0.10, 1},
}

// sizeOf is the key of the word that says most and is true of the whole interval;
// "open" where none is.
func sizeOf(i stat.Interval) string {
	for _, s := range sizes {
		if s.holds(i) {
			return s.key
		}
	}
	return "open"
}

func (s size) holds(i stat.Interval) bool {
	above := i.Low > s.low || s.low == 0
	below := i.High < s.high || s.high == 1
	return above && below
}

// hair keeps ends that are whole hundredths but for a machine's rounding whole.
const hair = 1e-9

func outward(i stat.Interval) (low, high int) {
	return int(math.Floor(100*i.Low + hair)), int(math.Ceil(100*i.High - hair))
}
