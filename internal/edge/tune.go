package edge

import "math"

// Bounds of the logs of the two precisions and of the link.
// At the upper ends neighbors are as good as alike; the link's ends are
// correlations of 0.9.
var (
	levelFrom, levelTo = -2.0, 6.0
	trendFrom, trendTo = 1.0, 11.0
	linkFrom, linkTo   = -1.5, 1.5
)

// nearly is how close to the top is close enough while precisions are compared:
// what evidence tells apart is far more.
const nearly = 0.02

// tune looks for the precisions with the most evidence, and for the spread.
func (m *model) tune() error {
	if err := m.settle(nearly); err != nil {
		return err
	}
	for finest := 1.0; finest >= 0.5; finest /= 2 {
		m.spread = m.pearson()
		if err := m.settle(nearly); err != nil {
			return err
		}
		for by := 2 * finest; by >= finest; by /= 2 {
			if err := m.climb(by); err != nil {
				return err
			}
		}
	}
	m.spread = m.pearson()
	if err := m.settle(1e-6); err != nil {
		return err
	}
	m.local = m.apart()
	m.inv = m.chol.inverse()
	return nil
}

// climb tries a step either way in each precision until none is better.
func (m *model) climb(by float64) error {
	tried := map[[3]float64]bool{{m.level, m.trend, m.link}: true}
	for better := true; better; {
		better = false
		for _, d := range [][3]float64{{by, 0, 0}, {-by, 0, 0}, {0, by, 0}, {0, -by, 0}, {0, 0, by / 2}, {0, 0, -by / 2}} {
			try := *m
			try.level = min(max(m.level+d[0], levelFrom), levelTo)
			try.trend = min(max(m.trend+d[1], trendFrom), trendTo)
			try.link = min(max(m.link+d[2], linkFrom), linkTo)
			at := [3]float64{try.level, try.trend, try.link}
			if tried[at] {
				continue
			}
			tried[at] = true
			if err := try.settle(nearly); err != nil {
				return err
			}
			if try.evid > m.evid+1e-6 {
				*m, better = try, true
			}
		}
	}
	return nil
}

// pearson is the spread of the looks about their chances, alike at least: squared
// differences over what a binomial's would be, over the looks less the
// parameters they determine.
func (m *model) pearson() float64 {
	sum, used := 0.0, 0.0
	slopes := make([]float64, len(m.z)/2)
	inv := m.chol.inverse()
	for _, l := range m.looks {
		p := l.chance(m.z, slopes)
		v := l.n * p * (1 - p)
		sum += min((l.y-l.n*p)*(l.y-l.n*p)/v, 25) // one odd look must not widen all
		used += l.n * l.n / (v * m.spread) * l.variance(inv, slopes)
	}
	m.effort = used
	free := float64(len(m.looks)) - used
	if free < 5 {
		return m.spread
	}
	return math.Min(math.Max(m.alike, sum/free), 10)
}

// variance is of a look's chance, by the field's covariance and the chance's
// slopes by u of its places.
func (l sight) variance(inv *band, slopes []float64) float64 {
	sum := 0.0
	for i, a := range l.nodes {
		for k, b := range l.nodes {
			sum += slopes[i] * slopes[k] * (inv.at(2*a, 2*b) + l.t*(inv.at(2*a+1, 2*b)+inv.at(2*a, 2*b+1)) + l.t*l.t*inv.at(2*a+1, 2*b+1))
		}
	}
	return sum
}

// apart is by how much places differ from what their surroundings say: the
// variance of a place's own logit, by moments. A place's finds less what was
// expected have the variance of a binomial, v, and of its own logit, v² times it.
func (m *model) apart() float64 {
	n := len(m.z) / 2
	off, v := make([]float64, n), make([]float64, n)
	slopes := make([]float64, n)
	for _, l := range m.looks {
		if len(l.nodes) == 1 {
			p := l.chance(m.z, slopes)
			off[l.nodes[0]] += l.y - l.n*p
			v[l.nodes[0]] += l.n * p * (1 - p)
		}
	}
	sum, weight := 0.0, 0.0
	for i := range off {
		sum += off[i]*off[i] - v[i]
		weight += v[i] * v[i]
	}
	if weight == 0 {
		return 0
	}
	return math.Max(0, sum/weight)
}
