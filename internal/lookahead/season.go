package lookahead

import (
	"fmt"
	"math"
	"time"
)

// Degree-days of the nematode are counted above 5 °C and, a day warmer than
// 30 °C, as one of 30 (Alston and Schmitt 1988, Journal of Nematology
// 20:366-372, for embryos).
const (
	baseC = 5
	topC  = 30
)

// DegreeDays are those of one day by its mean temperature in °C.
func DegreeDays(mean float64) float64 { return min(max(mean, baseC), topC) - baseC }

// CelsiusOf turns degrees Fahrenheit into degrees Celsius.
func CelsiusOf(f float64) float64 { return (f - 32) / 1.8 }

// Degree-days of a generation from Alston and Schmitt 1988: 534 ± 24 in early
// summer, 429 ± 24 in July and August.
const (
	firstGeneration = 534
	laterGeneration = 429
	generationWidth = 24
	// rooted is from planting to the first juveniles in roots. Our choice:
	// about ten days in late May.
	rooted = 100
	// shows is from planting to the first females on roots. Our choice; it
	// agrees with what is published in days: about 40 after planting, 26 in warm
	// springs (Tylka 2013, 2018).
	shows      = 530
	showsWidth = 100
)

// Months a season strip takes temperatures of.
const (
	FirstMonth = time.April
	LastMonth  = time.October
	// SeasonMonths is how many those are.
	SeasonMonths = int(LastMonth-FirstMonth) + 1
)

// Normal is a round course of temperatures: monthly means of the air in °F from
// April to October.
type Normal struct {
	Key   string // of its name in the catalog
	Means [SeasonMonths]float64
}

// Normals are three to start from, rounded by hand to be of the order of such
// places; no station's record. An office's own normal is better.
var Normals = []Normal{
	{"north", [SeasonMonths]float64{43, 57, 67, 71, 69, 60, 46}},
	{"middle", [SeasonMonths]float64{51, 62, 72, 76, 74, 66, 54}},
	{"south", [SeasonMonths]float64{60, 69, 77, 80, 79, 72, 61}},
}

// Strip is one season on the roots. Dates are calendar dates at UTC midnight.
type Strip struct {
	Plant, End time.Time
	// Shows is when the first females are to be seen on roots, with its range;
	// zero where the season ends before.
	ShowsFirst, Shows, ShowsLast time.Time
	// Fewest and Most generations that are completed by End.
	Fewest, Most int
	// Turns are the days on which generations are completed, at the usual pace.
	Turns []time.Time
	Total float64   // degree-days from planting to End
	Days  []float64 // degree-days of each day from planting to End
}

// Season works out a strip from monthly mean temperatures of the air in °F. It
// goes from planting to end, when the crop ripens and roots feed no more.
func Season(plant, end time.Time, means [SeasonMonths]float64) (Strip, error) {
	if plant.Year() != end.Year() || plant.Month() < FirstMonth || end.Month() > LastMonth || !plant.Before(end) {
		return Strip{}, fmt.Errorf("Season: %w: from %s to %s", ErrImpossible, plant.Format(time.DateOnly), end.Format(time.DateOnly))
	}
	for _, m := range means {
		if !(m >= -40 && m <= 130) {
			return Strip{}, fmt.Errorf("Season: %w: a month of %v °F", ErrImpossible, m)
		}
	}
	s := Strip{Plant: plant, End: end}
	for day := plant; day.Before(end); day = day.AddDate(0, 0, 1) {
		dd := DegreeDays(CelsiusOf(meanOn(day, means)))
		s.Days = append(s.Days, dd)
		s.Total += dd
	}
	s.ShowsFirst, s.Shows, s.ShowsLast = s.reaches(shows-showsWidth), s.reaches(shows), s.reaches(shows+showsWidth)
	s.Fewest = s.generations(firstGeneration+generationWidth, firstGeneration+generationWidth)
	s.Most = s.generations(firstGeneration-generationWidth, laterGeneration-generationWidth)
	for at := float64(rooted + firstGeneration); at <= s.Total; at += laterGeneration {
		s.Turns = append(s.Turns, s.reaches(at))
	}
	return s, nil
}

// generations counts whole ones. The slowest pace keeps that of early summer all
// year: in September they take four weeks again.
func (s Strip) generations(first, later float64) int {
	if s.Total < rooted+first {
		return 0
	}
	return 1 + int((s.Total-rooted-first)/later)
}

// reaches is the day on which the degree-days since planting come to sum; zero
// where they do not.
func (s Strip) reaches(sum float64) time.Time {
	total := 0.0
	for i, dd := range s.Days {
		if total += dd; total >= sum {
			return s.Plant.AddDate(0, 0, i)
		}
	}
	return time.Time{}
}

// meanOn draws straight lines between the middles of months.
func meanOn(day time.Time, means [SeasonMonths]float64) float64 {
	at := float64(day.Month()-FirstMonth) + (float64(day.Day())-0.5)/float64(daysIn(day)) - 0.5
	i := int(math.Floor(at))
	switch {
	case i < 0:
		return means[0]
	case i >= SeasonMonths-1:
		return means[SeasonMonths-1]
	}
	return means[i] + (at-float64(i))*(means[i+1]-means[i])
}

func daysIn(day time.Time) int {
	return time.Date(day.Year(), day.Month()+1, 0, 0, 0, 0, 0, time.UTC).Day()
}
