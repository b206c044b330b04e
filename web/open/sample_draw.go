package open

import (
	"fmt"
	"strings"
)

// The drawing of a walk over a field, in its own units: rows run up and down.
const (
	walkWidth  = 400
	walkHeight = 240
	walkEdge   = 16
	walkCores  = 18
	walkLegs   = 5
)

// walkRows are a field's rows, as one path.
func walkRows() string {
	var b strings.Builder
	for x := walkEdge + 12; x < walkWidth-walkEdge; x += 12 {
		fmt.Fprintf(&b, "M%d %dV%d", x, walkEdge, walkHeight-walkEdge)
	}
	return b.String()
}

// walkPoint is where a share of the zigzag has been walked.
func walkPoint(share float64) (x, y float64) {
	const left, right, top, bottom = walkEdge + 20, walkWidth - walkEdge - 20, walkEdge + 22, walkHeight - walkEdge - 22
	leg := min(int(share*walkLegs), walkLegs-1)
	in := share*walkLegs - float64(leg)
	x = left + share*(right-left)
	y = top + in*(bottom-top)
	if leg%2 == 1 {
		y = bottom - in*(bottom-top)
	}
	return x, y
}

// walkPath is the zigzag.
func walkPath() string {
	var points []string
	for i := range walkLegs + 1 {
		x, y := walkPoint(float64(i) / walkLegs)
		points = append(points, fmt.Sprintf("%.1f %.1f", x, y))
	}
	return "M" + strings.Join(points, "L")
}

// walkMarks are the cores along it: a short stake with a bar, each.
func walkMarks() string {
	var b strings.Builder
	for i := range walkCores {
		x, y := walkPoint((float64(i) + 0.5) / walkCores)
		fmt.Fprintf(&b, "M%.1f %.1fv-12m-5 0h10", x, y+4)
	}
	return b.String()
}
