package edge

import (
	"errors"
	"fmt"
	"math"
)

// ErrTooLittle is returned where there is too little to say.
var ErrTooLittle = errors.New("too little to say")

// The least that a surface is fitted to; ours, no source.
const (
	leastBags   = 30
	leastPlaces = 5
)

// model is the surface's field with the looks it is fitted to. The field is u
// and δ of every place, at 2k and 2k+1 of the place numbered k.
type model struct {
	survey    Survey
	neighbors [][]int
	number    []int
	parts     int // of the ground that hang together
	looks     []sight
	width     int
	t0        float64
	mean      float64 // logit of the share of all looks: where u is drawn to, ever so little

	alike  float64 // Options.Alike
	spread float64 // variance of a look over a binomial's
	level  float64 // log of the precision of u between neighbors
	trend  float64 // and of δ
	link   float64 // Fisher's z of the correlation of their steps between neighbors

	z      []float64
	chol   *band
	inv    *band   // of the field's precision, once it is tuned
	evid   float64 // log of the evidence for level and trend
	effort float64 // how many parameters the looks determine
	local  float64 // variance of a place's own logit about its surroundings'
}

// sight is a look as the model sees it.
type sight struct {
	nodes []int // numbers of its places
	t     float64
	y, n  float64
}

// Precisions with which u and δ are held at their middles: next to nothing, so
// that parts of the ground without a look stay finite.
const (
	holdLevel = 0.01
	holdTrend = 1
)

func newModel(s Survey, o Options) (*model, error) {
	m := &model{survey: s, neighbors: s.neighbors(), alike: o.Alike, spread: o.Alike, level: 0.5, trend: 5}
	m.number, m.parts = order(m.neighbors)
	looked := map[int]bool{}
	bags, finds, weight := 0, 0, 0.0
	for _, l := range s.Looks {
		if l.Judged() == 0 {
			continue
		}
		g := sight{t: l.middle(), y: float64(l.Finds), n: float64(l.Judged())}
		for _, p := range l.Places {
			g.nodes = append(g.nodes, m.number[p])
			looked[p] = true
		}
		m.looks = append(m.looks, g)
		bags, finds, weight = bags+l.Judged(), finds+l.Finds, weight+g.t*g.n
	}
	if bags < leastBags || len(looked) < leastPlaces || finds == 0 || finds == bags {
		return nil, fmt.Errorf("%w: %d bags from %d places, %d with finds", ErrTooLittle, bags, len(looked), finds)
	}
	m.t0 = weight / float64(bags)
	for i := range m.looks {
		m.looks[i].t -= m.t0
	}
	m.mean = math.Log(float64(finds) / float64(bags-finds))
	m.z = make([]float64, 2*len(s.Places))
	for i := 0; i < len(m.z); i += 2 {
		m.z[i] = m.mean
	}
	m.width = m.reach()
	return m, nil
}

// reach is how far from the diagonal the field's precision has entries.
func (m *model) reach() int {
	far := 0
	for i, ns := range m.neighbors {
		for _, k := range ns {
			far = max(far, m.number[i]-m.number[k])
		}
	}
	for _, l := range m.looks {
		for _, a := range l.nodes {
			for _, b := range l.nodes {
				far = max(far, a-b)
			}
		}
	}
	return 2*far + 1
}

// joint is the precision of the steps of u and δ between neighbors.
func (m *model) joint() (p [2][2]float64) {
	r := math.Tanh(m.link)
	tu, td := math.Exp(m.level), math.Exp(m.trend)
	p[0][0], p[1][1] = tu/(1-r*r), td/(1-r*r)
	p[0][1] = -r * math.Sqrt(tu*td) / (1 - r*r)
	p[1][0] = p[0][1]
	return p
}

// prior is the field's precision before any look.
func (m *model) prior() *band {
	q, p := newBand(len(m.z), m.width), m.joint()
	for i, ns := range m.neighbors {
		a := 2 * m.number[i]
		q.add(a, a, holdLevel+p[0][0]*float64(len(ns)))
		q.add(a+1, a+1, holdTrend+p[1][1]*float64(len(ns)))
		q.add(a+1, a, p[0][1]*float64(len(ns)))
		for _, k := range ns {
			if b := 2 * m.number[k]; b < a {
				q.add(a, b, -p[0][0])
				q.add(a+1, b+1, -p[1][1])
				q.add(a+1, b, -p[0][1])
				q.add(a, b+1, -p[0][1])
			}
		}
	}
	return q
}

// pull is minus half the prior's quadratic form at z and its slope.
func (m *model) pull(z, slope []float64) float64 {
	sum, p := 0.0, m.joint()
	for i, ns := range m.neighbors {
		a := 2 * m.number[i]
		u, d := z[a]-m.mean, z[a+1]
		sum -= (holdLevel*u*u + holdTrend*d*d) / 2
		slope[a] -= holdLevel * u
		slope[a+1] -= holdTrend * d
		for _, k := range ns {
			b := 2 * m.number[k]
			u, d := z[a]-z[b], z[a+1]-z[b+1]
			gu, gd := p[0][0]*u+p[0][1]*d, p[1][0]*u+p[1][1]*d
			sum -= (u*gu + d*gd) / 4 // every pair comes twice
			slope[a] -= gu
			slope[a+1] -= gd
		}
	}
	return sum
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// chance is that of a look at z, with its slope by u of each of its places; by δ
// it is t times that.
func (l sight) chance(z, slopes []float64) float64 {
	p, w := 0.0, 1/float64(len(l.nodes))
	for i, k := range l.nodes {
		th := logistic(z[2*k] + z[2*k+1]*l.t)
		p += w * th
		slopes[i] = w * th * (1 - th)
	}
	return min(max(p, 1e-12), 1-1e-12)
}

// objective is the log of the likelihood times prior at z. Where slope and h are
// given it adds the slope there, and what the looks know to h.
func (m *model) objective(z, slope []float64, h *band) float64 {
	if slope == nil {
		slope = make([]float64, len(z))
	}
	sum := m.pull(z, slope)
	var slopes [64]float64
	for _, l := range m.looks {
		s := slopes[:]
		if len(l.nodes) > len(s) {
			s = make([]float64, len(l.nodes))
		}
		p := l.chance(z, s)
		sum += (l.y*math.Log(p) + (l.n-l.y)*math.Log1p(-p)) / m.spread
		v := p * (1 - p) * m.spread
		r := (l.y - l.n*p) / v
		for i, k := range l.nodes {
			slope[2*k] += r * s[i]
			slope[2*k+1] += r * s[i] * l.t
		}
		if h != nil {
			l.inform(h, s, l.n/v)
		}
	}
	return sum
}

func (l sight) inform(h *band, s []float64, weight float64) {
	for i, a := range l.nodes {
		for k, b := range l.nodes[:i+1] {
			v := weight * s[i] * s[k]
			h.add(2*a, 2*b, v)
			h.add(2*a+1, 2*b+1, v*l.t*l.t)
			h.add(2*a+1, 2*b, v*l.t)
			if a != b {
				h.add(2*a, 2*b+1, v*l.t)
			}
		}
	}
}

// settle climbs to the top of the objective by Fisher's scoring, halving steps
// that lead down, until no more than close is to be gained, and works out the
// evidence there.
func (m *model) settle(close float64) error {
	best := m.objective(m.z, nil, nil)
	for range 60 {
		slope := make([]float64, len(m.z))
		h := m.prior()
		m.objective(m.z, slope, h)
		if !h.factor() {
			return fmt.Errorf("edge: field of %d places cannot be solved", len(m.z)/2)
		}
		m.chol = h
		h.down(slope, 0)
		gain := 0.0
		for _, v := range slope {
			gain += v * v
		}
		h.up(slope)
		if gain < close {
			break
		}
		if best = m.step(slope, best); math.IsInf(best, -1) {
			break
		}
	}
	m.weigh()
	return nil
}

// step goes as much of the way as leads up; -Inf where nothing does.
func (m *model) step(way []float64, best float64) float64 {
	for part := 1.0; part > 1e-4; part /= 2 {
		try := make([]float64, len(m.z))
		for i := range try {
			try[i] = m.z[i] + part*way[i]
		}
		if at := m.objective(try, nil, nil); at > best {
			m.z = try
			return at
		}
	}
	return math.Inf(-1)
}

// weigh is Laplace's approximation of the evidence at the top, but for what is
// the same for all precisions: the prior's determinant is that of the precision
// between neighbors, once for every place but one of each part of the ground that
// hangs together, times one that depends on who is whose neighbor.
func (m *model) weigh() {
	p := m.joint()
	det := math.Log(p[0][0]*p[1][1] - p[0][1]*p[1][0])
	m.evid = m.objective(m.z, nil, nil) + (float64(len(m.z)/2-m.parts)*det-m.chol.logDet())/2
}
