package open

import (
	"fmt"
	"strings"
	"time"

	"sixmile/internal/catalog"
	"sixmile/internal/lookahead"
)

// The strip's own units.
const (
	stripWidth  = 400
	stripHeight = 208
	stripLeft   = 6
	stripRight  = 394
	stripBase   = 108 // where degree-days a day stand on
	stripTall   = 72  // twenty-five of them
	stripRow    = 124 // top of the row of generations
	stripRowEnd = 150
)

// seasonChart is a season as a strip: degree-days a day above, generations as a
// row of fields below, and the time in which females begin to show.
type seasonChart struct {
	Label      string
	Area       string
	Months     []seasonTick
	Fields     []seasonField
	From, To   float64 // when females begin to show
	At         float64
	ShowsKnown bool
}

// seasonTick is the first of a month.
type seasonTick struct {
	X, TextX float64
	Name     string
}

// seasonField is a generation; the last one may be unfinished.
type seasonField struct {
	X, Width, Middle float64
	Name             string
	Open             bool
}

func seasonChartOf(l *catalog.Lang, s lookahead.Strip) seasonChart {
	days := s.End.Sub(s.Plant).Hours() / 24
	x := func(t time.Time) float64 {
		return stripLeft + t.Sub(s.Plant).Hours()/24/days*(stripRight-stripLeft)
	}
	c := seasonChart{Label: l.Say("season.chart.label")}
	points := []string{fmt.Sprintf("%.1f %d", x(s.Plant), stripBase)}
	for i, dd := range s.Days {
		points = append(points, fmt.Sprintf("%.1f %.1f", x(s.Plant.AddDate(0, 0, i)), stripBase-dd/25*stripTall))
	}
	c.Area = "M" + strings.Join(append(points, fmt.Sprintf("%.1f %d", x(s.End), stripBase)), "L") + "Z"
	for t := s.Plant; t.Before(s.End); t = firstOfNext(t) {
		next := firstOfNext(t)
		if next.After(s.End) {
			next = s.End
		}
		tick := seasonTick{X: x(t), TextX: (x(t) + x(next)) / 2}
		if next.Sub(t) > 12*24*time.Hour || days < 40 {
			tick.Name = l.SayOf("season.month", strings.ToLower(t.Month().String()))
		}
		c.Months = append(c.Months, tick)
	}
	from := s.Plant
	for i, turn := range append(append([]time.Time(nil), s.Turns...), s.End) {
		open := i == len(s.Turns)
		f := seasonField{X: x(from), Width: x(turn) - x(from), Middle: (x(from) + x(turn)) / 2, Open: open}
		if f.Width > 14 {
			f.Name = l.Number(i + 1)
		}
		c.Fields = append(c.Fields, f)
		from = turn
	}
	if !s.ShowsFirst.IsZero() {
		last := s.ShowsLast
		if last.IsZero() {
			last = s.End
		}
		c.ShowsKnown, c.From, c.To, c.At = true, x(s.ShowsFirst), x(last), x(last)
		if !s.Shows.IsZero() {
			c.At = x(s.Shows)
		}
	}
	return c
}

func firstOfNext(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month()+1, 1, 0, 0, 0, 0, time.UTC)
}
