package office

import (
	"math"
	"strconv"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
)

// readingView is what a count comes to, as shown beside the form.
type readingView struct {
	Missing string // what is still wanted; the rest is empty then
	Density string
	Level   string
	Limits  string
	Portion string // what the portions say of each other
	Bag     string // how far the bag itself is known
	Again   string // why another look is worth it
	PerEgg  string
	Sure    string // how sure the level is
	Caution string // the level table was not made for this recipe
}

// eggs writes a density in whole eggs, and small ones with one decimal.
func eggs(l *catalog.Lang, d float64) string {
	if d > 0 && d < 10 && d != math.Round(d) {
		return strconv.FormatFloat(d, 'f', 1, 64)
	}
	return l.Number(int(math.Round(d)))
}

// percent writes a share in whole percent.
func percent(share float64) string {
	return strconv.FormatFloat(math.Round(100*share), 'f', -1, 64) + "%"
}

// newReadingView works out a typed count. Problems say where it cannot be.
func newReadingView(l *catalog.Lang, s assay.Scheme, m assay.Method, t typedCount) (readingView, assay.Count, map[string]assay.Problem, error) {
	c, bad := t.count()
	if len(bad) == 0 {
		r, err := c.Density(m)
		if err == nil {
			v := showReading(l, s, m, r)
			if bag, err := c.BagLimits(m); err == nil && r.Eggs > 0 && r.Eggs <= fewForBag {
				v.Bag = l.Say("count.reading.bag", "low", eggs(l, bag.Low), "high", eggs(l, bag.High))
			}
			return v, c, nil, nil
		}
		addInvalid(bad, err, []int{0})
		if len(bad) == 0 {
			return readingView{}, c, nil, err // the recipe is broken: not the technician's fault
		}
	}
	return readingView{Missing: firstProblem(l, bad)}, c, bad, nil
}

// firstProblem is the sentence of the first field that cannot stand, with the
// eggs before the amounts, since they are keyed first.
func firstProblem(l *catalog.Lang, bad map[string]assay.Problem) string {
	if bad[eggsName(0)] == assay.Missing {
		return l.Say("count.reading.waiting")
	}
	for _, name := range fieldOrder {
		if p, there := bad[name]; there {
			return problemText(l, name, p)
		}
	}
	return ""
}

func showReading(l *catalog.Lang, s assay.Scheme, m assay.Method, r assay.Reading) readingView {
	class := s.Class(r)
	v := readingView{
		Density: eggs(l, float64(r.Density)),
		Level:   l.SayOf("level", class.Name),
		PerEgg:  l.Say("count.reading.peregg", "eggs", eggs(l, float64(r.PerEgg))),
		Sure:    sureness(l, s, r, class),
	}
	if r.LimitsKnown {
		v.Limits = l.Say("count.reading.limits", "low", eggs(l, r.Limits.Low), "high", eggs(l, r.Limits.High))
	}
	if r.Dispersion.Tested() {
		key := "count.reading.agree"
		if r.LimitsBy == assay.NegBinomial {
			key = "count.reading.disagree"
		}
		v.Portion = l.Say(key, "chance", percent(r.Dispersion.P))
	}
	if again := s.Recount(r); again.Worth {
		v.Again = l.Say("count.reading.again", "why", againText(l, again), "chance", percent(again.Chance))
	}
	if !s.Fits(m) {
		v.Caution = l.Say("count.reading.misfit", "scheme", s.Title)
	}
	return v
}

// fewForBag is the most eggs for which the limits of the bag are shown beside
// those of the slide: with many the cysts make little difference, and working it
// out takes its time.
const fewForBag = 60

// againText says why another look is worth it.
func againText(l *catalog.Lang, r assay.Recount) string {
	text := ""
	for i, why := range r.Reasons {
		if i > 0 {
			text += "; "
		}
		text += l.SayOf("recount", string(why))
	}
	return text
}

// sureness says how far the level itself can be trusted.
func sureness(l *catalog.Lang, s assay.Scheme, r assay.Reading, class assay.Class) string {
	switch class.Kind {
	case assay.None:
		return l.Say("count.sure.none")
	case assay.Unconfirmed:
		if r.Eggs == 0 {
			return l.Say("count.sure.noeggs")
		}
		return l.Say("count.sure.unconfirmed")
	}
	if chances, known := s.Chances(r); known {
		for _, c := range chances {
			if c.Class.Name == class.Name && c.Chance < 0.995 {
				return l.Say("count.sure.chance", "level", l.SayOf("level", class.Name), "chance", percent(c.Chance)) + " " + rangeText(l, s, r)
			}
		}
	}
	return rangeText(l, s, r)
}

// rangeText names the levels that the limits reach over.
func rangeText(l *catalog.Lang, s assay.Scheme, r assay.Reading) string {
	low, high, known := s.Range(r)
	switch {
	case !known || low.Kind == 0 || high.Kind == 0:
		return ""
	case low.Name == high.Name:
		return l.Say("count.sure.one", "level", l.SayOf("level", low.Name))
	}
	return l.Say("count.sure.range", "low", l.SayOf("level", low.Name), "high", l.SayOf("level", high.Name))
}

// resultLine says a bag's result in one line:
// "K7QF-2M9X: 2,100, moderate, likely 1,513 to 2,839".
func resultLine(l *catalog.Lang, s assay.Scheme, code bag.Code, r assay.Reading) string {
	level := l.SayOf("level", s.Class(r).Name)
	if !r.LimitsKnown {
		return l.Say("count.line.nolimits", "code", code.String(), "density", eggs(l, float64(r.Density)), "level", level)
	}
	return l.Say("count.line", "code", code.String(), "density", eggs(l, float64(r.Density)), "level", level,
		"low", eggs(l, r.Limits.Low), "high", eggs(l, r.Limits.High))
}
