package attack

// Equation says that the unknown cells listed sum to Total.
type Equation struct {
	Cells []int
	Total int
}

// Range is the least and the most a hidden cell can be.
type Range struct{ Low, High int }

// Ranges works out, for each of n hidden cells that hold whole numbers of zero
// or more, exactly which numbers the equations leave possible. Every cell must
// be in an equation. It is meant for tables of a page, not of a census. False
// means that the equations contradict each other.
func Ranges(n int, equations []Equation) ([]Range, bool) {
	bounds := make([]Range, n)
	for i := range bounds {
		bounds[i].High = 1 << 30
	}
	if !narrow(bounds, equations) {
		return nil, false
	}
	out := make([]Range, n)
	for i := range out {
		low, high := bounds[i].Low, bounds[i].High
		for low <= high && !possible(bounds, equations, i, low) {
			low++
		}
		for high > low && !possible(bounds, equations, i, high) {
			high--
		}
		if low > high {
			return nil, false
		}
		out[i] = Range{low, high}
	}
	return out, true
}

// possible says whether any filling of the table gives cell the value.
func possible(bounds []Range, equations []Equation, cell, value int) bool {
	try := append([]Range(nil), bounds...)
	try[cell] = Range{value, value}
	if !narrow(try, equations) {
		return false
	}
	open := -1
	for i, b := range try {
		if b.Low < b.High && (open < 0 || b.High-b.Low < try[open].High-try[open].Low) {
			open = i
		}
	}
	if open < 0 {
		return true
	}
	for v := try[open].Low; v <= try[open].High; v++ {
		if possible(try, equations, open, v) {
			return true
		}
	}
	return false
}

// narrow draws the bounds in until no equation can draw them further: a cell
// is at most the total less the least of its partners, and at least the total
// less their most.
func narrow(bounds []Range, equations []Equation) bool {
	for changed := true; changed; {
		changed = false
		for _, e := range equations {
			low, high := 0, 0
			for _, c := range e.Cells {
				low += bounds[c].Low
				high += bounds[c].High
			}
			for _, c := range e.Cells {
				b := bounds[c]
				b.Low = max(b.Low, e.Total-(high-b.High))
				b.High = min(b.High, e.Total-(low-b.Low))
				if b.Low > b.High {
					return false
				}
				if b != bounds[c] {
					low += b.Low - bounds[c].Low
					high += b.High - bounds[c].High
					bounds[c] = b
					changed = true
				}
			}
			if len(e.Cells) == 0 && e.Total != 0 {
				return false
			}
		}
	}
	return true
}
