package lookahead

import "math"

// edgeZ is how many standard deviations the ends of a published range are taken
// to lie from the middle: they hold 95 in 100.
const edgeZ = 1.959963984540054

// spread turns a standard normal number into a figure of a published mean and
// range. Factors are log-normal with an own width on each side, so that the
// median is mid, the ends hold 95 in 100 and the mean is the published one;
// rates, which may be zero, are normal in the same way.
type spread struct {
	mid, down, up float64 // logarithms for factors
	rate          bool
	most          float64
}

// spreadOf prepares a figure.
func spreadOf(f Figure, shape Shape) spread {
	s := spread{rate: shape == Rate, most: math.Inf(1)}
	switch shape {
	case Share:
		s.most = 1
	case Rate:
		s.mid, s.down, s.up = f.Mean, (f.Mean-f.Low)/edgeZ, (f.High-f.Mean)/edgeZ
		return s
	}
	m := median(f)
	s.mid, s.down, s.up = math.Log(m), math.Log(m/f.Low)/edgeZ, math.Log(f.High/m)/edgeZ
	return s
}

// at is the figure z standard deviations from the middle. It never falls as z
// rises.
func (s spread) at(z float64) float64 {
	w := s.up
	if z < 0 {
		w = s.down
	}
	if s.rate {
		return max(0, s.mid+w*z)
	}
	return min(s.most, math.Exp(s.mid+w*z))
}

// median is the middle by which a factor has its published mean and range. The
// mean rises with the middle, so halving finds it.
func median(f Figure) float64 {
	low, high := f.Low, f.High
	if low == high {
		return low
	}
	for range 60 {
		mid := math.Sqrt(low * high)
		if meanOf(f, mid) < f.Mean {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Sqrt(low * high)
}

// meanOf is the mean of a factor with middle m and f's ends: half of it a
// log-normal's lower side, half an upper side.
func meanOf(f Figure, m float64) float64 {
	side := func(s float64) float64 { return math.Exp(s*s/2) * normalBelow(s) }
	return m * (side(-math.Log(m/f.Low)/edgeZ) + side(math.Log(f.High/m)/edgeZ))
}

// normalBelow is the standard normal distribution.
func normalBelow(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
