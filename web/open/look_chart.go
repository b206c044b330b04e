package open

import (
	"fmt"
	"math"
	"strings"

	"sixmile/internal/catalog"
	"sixmile/internal/lookahead"
)

// The chart's own units. Densities are drawn by powers of ten, from chartLow up.
const (
	chartWidth  = 400
	chartHeight = 314
	chartLeft   = 58
	chartRight  = 361 // figures of the cut points stand beside it
	chartTopY   = 32
	chartBottom = 254
	chartLow    = 10
	figureApart = 13 // a figure's height
)

// lookChart is one rotation's drawing: its bands as shapes, its middle as a line
// with a mark a fall, and the level table's cut points.
type lookChart struct {
	Label          string
	Eight, Half    string // path data
	Middle         string
	Marks          []lookMark
	Lines          []lookLine // a power of ten each
	Cuts           []lookCutLine
	Falls          []lookTick
	SoybeanSpans   []lookSpan // where soybeans or beans stand
	Height, Bottom int
}

// lookMark stands at the middle of a fall.
type lookMark struct{ X, Y float64 }

// lookLine is a level line with its figure.
type lookLine struct {
	Y    float64
	Text string
}

// lookCutLine is where a level ends, with its figure at a height where no other
// figure stands.
type lookCutLine struct {
	lookLine
	FigureY float64
}

// lookTick names a fall and the crop before it.
type lookTick struct {
	X          float64
	Year, Crop string
	Mid        float64 // the middle of the season before it
}

// lookSpan is the season of a host under the axis: one line for a susceptible
// one, broken for a resistant soybean.
type lookSpan struct {
	From, To  float64
	Resistant bool
}

// chartTop is the power of ten that holds every band, the same for all charts
// of a page so that they can be compared.
func chartTop(outlooks []lookahead.Outlook) int {
	most := 10000.0
	for _, o := range outlooks {
		for _, y := range o.Years {
			most = max(most, y.Eggs.High80)
		}
	}
	return int(math.Ceil(math.Log10(most) - 1e-9))
}

func chartOf(l *catalog.Lang, o lookahead.Outlook, cuts []lookCut, top int) lookChart {
	n := len(o.Years) - 1
	// Six years take the whole width whatever the rotation's length.
	x := func(i int) float64 {
		return chartLeft + float64(i)*(chartRight-chartLeft-14)/lookahead.MaxYears + 7
	}
	y := func(eggs float64) float64 {
		at := (math.Log10(max(eggs, chartLow)) - 1) / float64(top-1)
		return chartBottom - min(at, 1)*(chartBottom-chartTopY)
	}
	c := lookChart{Height: chartHeight, Bottom: chartBottom}
	for p := 1; p <= top; p++ {
		c.Lines = append(c.Lines, lookLine{y(math.Pow10(p)), l.Number(int(math.Pow10(p)))})
	}
	lowest := math.Inf(1)
	for _, cut := range cuts { // from the lowest up
		if float64(cut.Density) > chartLow && float64(cut.Density) < math.Pow10(top) {
			at := lookLine{y(float64(cut.Density)), l.Number(cut.Density)}
			lowest = min(at.Y, lowest-figureApart)
			c.Cuts = append(c.Cuts, lookCutLine{at, lowest})
		}
	}
	bandPath := func(low, high func(lookahead.Band) float64) string {
		var up, back []string
		for i := range o.Years {
			up = append(up, fmt.Sprintf("%.1f %.1f", x(i), y(high(o.Years[i].Eggs))))
			j := n - i
			back = append(back, fmt.Sprintf("%.1f %.1f", x(j), y(low(o.Years[j].Eggs))))
		}
		return "M" + strings.Join(append(up, back...), "L") + "Z"
	}
	c.Eight = bandPath(func(b lookahead.Band) float64 { return b.Low80 }, func(b lookahead.Band) float64 { return b.High80 })
	c.Half = bandPath(func(b lookahead.Band) float64 { return b.Low50 }, func(b lookahead.Band) float64 { return b.High50 })
	var middle []string
	for i, year := range o.Years {
		at := lookMark{x(i), y(year.Eggs.Median)}
		c.Marks = append(c.Marks, at)
		middle = append(middle, fmt.Sprintf("%.1f %.1f", at.X, at.Y))
		t := lookTick{X: at.X, Year: l.Say("look.axis.now"), Mid: at.X}
		if i > 0 {
			t.Mid = (x(i-1) + x(i)) / 2
			t.Year, t.Crop = l.Number(i), l.SayOf("look.brief", string(year.Crop))
			if year.Crop.Soybean() || year.Crop.DryBean() {
				c.SoybeanSpans = append(c.SoybeanSpans, lookSpan{x(i-1) + 3, x(i) - 3, year.Crop.Resistant()})
			}
		}
		c.Falls = append(c.Falls, t)
	}
	c.Middle = "M" + strings.Join(middle, "L")
	return c
}
