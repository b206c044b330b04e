package lookahead

import "math"

// Multiply is the density at harvest of a density at planting, both in eggs per
// 100 cm³ of soil: Seinhorst 1967. a is the multiplication at low density, most
// the ceiling of what reproduction adds, and stay the share of the eggs at
// planting that neither hatch nor die. An a or a ceiling of zero is no
// reproduction.
func Multiply(pi, a, most, stay float64) float64 {
	if a <= 0 || most <= 0 {
		return stay * pi
	}
	return most*-math.Expm1(-a*pi/most) + stay*pi
}

// atTolerance is Seinhorst's z to the power of T: the usual choice, by which
// the rest of the curve follows from T and m alone.
const atTolerance = 0.95

// RelativeYield is the yield at a density at planting as a share of what the
// same crop would yield without the nematode: Seinhorst 1965, with z^T = 0.95.
// tolerance is T, the density up to which nothing is lost; least is m, the share
// that remains however many there are.
func RelativeYield(p, tolerance, least float64) float64 {
	if p <= tolerance {
		return 1
	}
	if tolerance <= 0 {
		return least
	}
	return least + (1-least)*math.Pow(atTolerance, p/tolerance-1)
}
