package office

import (
	"strconv"
	"strings"

	"sixmile/internal/catalog"
	"sixmile/internal/gazette"
	"sixmile/internal/outlook"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/web/shell"
)

// lookView is the page that looks back on a plan.
type lookView struct {
	Plans   []choice
	About   string
	Waiting bool // nothing was released of its fall yet
	Count   string
	Verdict string
	Planned string
	Blind   string
	Brier   string
	Parts   string
	Flat    bool // the chances were all nearly alike: the diagram tells little
	Bins    []binRow
	Diagram diagram
	Towns   []lookTown
	Heads   []shell.ColumnHead // of the table of towns
}

type binRow struct{ Chance, Places, Came, Share, Range string }

type lookTown struct {
	Name, Suggested, Bags, Chance, Found string
	Hit                                  bool

	of outlook.Seen
}

// diagram is a reliability diagram in the units of its drawing.
type diagram struct {
	Desc   string
	Points []dot
	Ticks  []tick
}

type dot struct{ X, Y, R, Low, High int }

type tick struct {
	At, Up int // from the left, from the top
	Text   string
}

// The drawing's inner square: its left, top and side.
const diagramLeft, diagramTop, diagramSide = 60, 20, 320

func diagramX(share float64) int { return diagramLeft + int(share*diagramSide+0.5) }
func diagramY(share float64) int { return diagramTop + diagramSide - int(share*diagramSide+0.5) }

func newDiagram(l *catalog.Lang, s plan.Score) diagram {
	d := diagram{Desc: l.Count("lookback.diagram.desc", s.N)}
	for i := range 6 {
		share := float64(i) / 5
		d.Ticks = append(d.Ticks, tick{diagramX(share), diagramY(share), percent(share)})
	}
	for _, b := range s.Bins {
		r := 4
		for n := b.N; n > 1; n /= 2 { // a little more for each doubling
			r++
		}
		d.Points = append(d.Points, dot{diagramX(b.Mean), diagramY(b.Share), r, diagramY(b.Range.Low), diagramY(b.Range.High)})
	}
	return d
}

// leastSpread is how far apart chances must lie for the diagram to tell
// anything. Our own choice.
const leastSpread = 0.1

func newLookView(l *catalog.Lang, x *gazette.Index, list []plan.Saved, p plan.Saved, b outlook.Back, ok bool) lookView {
	v := lookView{
		About: l.Say("lookback.about", "year", strconv.Itoa(p.Season), "day", l.Date(p.Day), "number", strconv.Itoa(p.Edition),
			"code", x.Issue.Edition.Code, "month", l.MonthYear(x.Issue.Edition.Released)),
		Waiting: !ok,
	}
	for _, s := range list {
		no := strconv.Itoa(s.No)
		v.Plans = append(v.Plans, choice{no, l.Say("lookback.plan", "year", strconv.Itoa(s.Season), "day", l.Date(s.Day)), s.No == p.No})
	}
	if !ok {
		return v
	}
	v.Count = l.Count("lookback.count", b.Count.Came, "places", l.Count("lookback.places", len(b.Places)),
		"expected", oneDecimal(b.Count.Expected), "low", b.Count.Low, "high", b.Count.High)
	switch {
	case b.Count.Agrees():
		v.Verdict = l.Say("lookback.verdict.agrees")
	case b.Count.Came < b.Count.Low:
		v.Verdict = l.Say("lookback.verdict.fewer")
	default:
		v.Verdict = l.Say("lookback.verdict.more")
	}
	v.Planned = l.Say("lookback.planned", "planned", oneDecimal(b.Planned))
	if b.Blind > 0 {
		v.Blind = l.Count("lookback.blind", b.Blind)
	}
	s := b.Score
	v.Brier = l.Say("lookback.brier", "score", threeDecimals(s.Brier), "base", threeDecimals(s.Uncertainty), "share", percent(s.Base))
	v.Parts = l.Say("lookback.parts", "reliability", threeDecimals(s.Reliability), "resolution", threeDecimals(s.Resolution),
		"uncertainty", threeDecimals(s.Uncertainty), "within", threeDecimals(s.Within))
	var calls []plan.Call
	name := map[place.ID]string{}
	for _, c := range x.Issue.Counties {
		for _, t := range c.Townships {
			name[t.ID] = t.Label() + ", " + c.Name
		}
	}
	for _, t := range b.Places {
		calls = append(calls, plan.Call{Chance: t.Chance, Came: t.Found})
		row := lookTown{Name: name[t.Place], Suggested: l.Number(t.Suggested), Bags: l.Number(t.Bags), Chance: percent(t.Chance), Hit: t.Found, of: t}
		if row.Name == "" {
			row.Name = l.Say("office.place.gone")
		}
		if row.Found = l.Say("lookback.found.no"); t.Found {
			row.Found = l.Say("lookback.found.yes")
		}
		v.Towns = append(v.Towns, row)
	}
	v.Flat = plan.Spread(calls) < leastSpread
	for _, bin := range s.Bins {
		v.Bins = append(v.Bins, binRow{
			l.Say("lookback.bin", "low", percent(bin.Low), "high", percent(bin.High)), l.Number(bin.N), l.Number(bin.Came),
			percent(bin.Share), l.Say("lookback.bin", "low", percent(bin.Range.Low), "high", percent(bin.Range.High)),
		})
	}
	v.Diagram = newDiagram(l, s)
	return v
}

// sort sorts the table of what came out since.
func (v *lookView) sort(l *catalog.Lang, s sorting) {
	v.Heads = arrange(&s, v.Towns,
		byWords("", l.Say("plan.col.town"), func(t lookTown) string { return t.Name }),
		byNumber("suggested", l.Say("lookback.col.suggested"), func(t lookTown) int { return t.of.Suggested }),
		byNumber("bags", l.Say("lookback.col.bags"), func(t lookTown) int { return t.of.Bags }),
		byMost("chance", l.Say("lookback.col.chance"), func(t lookTown) (float64, bool) { return t.of.Chance, true }),
		byMost("found", l.Say("lookback.col.found"), func(t lookTown) (float64, bool) { return 1, t.Hit }).left())
}

func threeDecimals(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'f', 3, 64), "-", "−", 1)
}
