package gazette

import (
	"sixmile/internal/edition"
	"sixmile/internal/stat"
)

// Share is the share of samples with finds among those that are sure either
// way, with its Wilson interval (Wilson 1927) at stat.Confidence. The samples
// are those of people who chose to send some in, so it is a share of bags and
// not of a county's fields.
type Share struct {
	Finds, Judged int
	Interval      stat.Interval
}

// shareOf is false where no sample is sure either way.
func shareOf(f edition.Figures) (Share, bool) {
	i, err := stat.Wilson(f.Finds, f.Judged(), stat.Confidence)
	if err != nil {
		return Share{}, false
	}
	return Share{Finds: f.Finds, Judged: f.Judged(), Interval: i}, true
}

// PerHundred is the share and its interval in hundredths. The share is rounded as
// on maps, so that one bag of 400 with eggs is 1 and not 0. The ends are rounded
// outward, so what is printed is never narrower than the interval.
func (s Share) PerHundred() (share, low, high int) {
	return perHundred(s.Finds, s.Judged, s.Interval)
}

// Fall is about how much came in from a county in one fall, results that are
// not on the map yet included.
type Fall struct {
	Season  int
	Samples int // about this many
	Finds   int // about this many; see SevenOrFewer
	Highest Level
}

// SevenOrFewer tells that Finds is not "about five" but "seven or fewer": five is
// told of seven too, and of none where too few wait to say so (edition.Behind).
func (f Fall) SevenOrFewer() bool { return f.Finds == 5 }

// fallOf finds a county's figure of a fall; false where there is none, because
// too few senders took part.
func fallOf(falls []edition.FallFigure, season int) (Fall, bool) {
	for _, f := range falls {
		if f.Season != season {
			continue
		}
		highest := noLevel
		if f.Highest != edition.NotTold {
			highest = Level{Rank: f.Highest, Exact: true}
		}
		return Fall{Season: f.Season, Samples: f.Samples, Finds: f.Finds, Highest: highest}, true
	}
	return Fall{}, false
}
