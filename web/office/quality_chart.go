package office

import (
	"math"
	"strconv"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
)

// chartView is a control chart as the page draws it: lines and points in the
// units of its own box, and the same as a table.
type chartView struct {
	Width, Height int
	Lines         []chartLine
	Points        []chartPoint
	Path          string // of the line that joins the points; empty for one point
	Provisional   bool   // drawn on what counting leaves at the least
	Flagged       int
}

type chartLine struct {
	Y, Name string
	Center  bool
}

type chartPoint struct {
	X, Y    string
	Name    string // tray
	Figure  string
	Sigmas  string
	Flags   []string
	Flagged bool
}

// The box of a chart, in its own units, and the sigmas at its upper edge.
const (
	chartWidth, chartHeight = 960, 320
	chartLeft, chartRight   = 90, 20
	chartEdge               = 4.5
)

// newChartView draws a series of check samples. What lies beyond the edge of the
// box stands on it; its figure is in the table.
func newChartView(l *catalog.Lang, c assay.Chart, provisional bool, done []desk.Control) chartView {
	v := chartView{Width: chartWidth, Height: chartHeight, Provisional: provisional}
	y := func(sigmas float64) float64 {
		s := math.Max(-chartEdge, math.Min(chartEdge, sigmas))
		return chartHeight/2 - s/chartEdge*chartHeight/2
	}
	for _, s := range []float64{3, 2, 1, 0, -1, -2, -3} {
		v.Lines = append(v.Lines, chartLine{Y: short(y(s)), Name: eggs(l, float64(c.Line(s))), Center: s == 0})
	}
	var series []assay.Density
	for _, d := range done {
		series = append(series, d.Density)
	}
	step := float64(chartWidth-chartLeft-chartRight) / float64(max(len(done), 2))
	for i, p := range c.Points(series) {
		x := chartLeft + step*(float64(i)+0.5)
		point := chartPoint{
			X: short(x), Y: short(y(p.Sigmas)), Name: l.Say("tray.one", "no", strconv.Itoa(done[i].Tray)),
			Figure: eggs(l, float64(p.Density)), Sigmas: strconv.FormatFloat(p.Sigmas, 'f', 1, 64),
		}
		for _, f := range p.Flags {
			point.Flags = append(point.Flags, l.SayOf("quality.rule", f.String()))
		}
		if point.Flagged = len(p.Flags) > 0; point.Flagged {
			v.Flagged++
		}
		v.Points = append(v.Points, point)
		sign := " L"
		if i == 0 {
			sign = "M"
		}
		v.Path += sign + point.X + " " + point.Y
	}
	if len(v.Points) < 2 {
		v.Path = ""
	}
	return v
}

// short writes a length with one decimal.
func short(v float64) string { return strconv.FormatFloat(math.Round(10*v)/10, 'f', -1, 64) }
