package edge

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// The solver against gonum's dense Cholesky.
func TestBandAgainstGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const n, width = 23, 5
	b, dense := newBand(n, width), mat.NewSymDense(n, nil)
	for i := range n {
		for k := max(0, i-width); k <= i; k++ {
			v := rng.NormFloat64()
			if i == k {
				v = 12 + rng.Float64()
			}
			b.add(k, i, v) // either way round
			dense.SetSym(i, k, v)
		}
	}
	var chol mat.Cholesky
	require.True(t, chol.Factorize(dense))
	require.True(t, b.factor())
	require.InDelta(t, chol.LogDet(), b.logDet(), 1e-9)
	v := make([]float64, n)
	for i := range v {
		v[i] = rng.NormFloat64()
	}
	var want mat.VecDense
	require.NoError(t, chol.SolveVecTo(&want, mat.NewVecDense(n, append([]float64(nil), v...))))
	b.down(v, 0)
	b.up(v)
	for i := range v {
		require.InDelta(t, want.AtVec(i), v[i], 1e-9)
	}
	var inverse mat.SymDense
	require.NoError(t, chol.InverseTo(&inverse))
	z := b.inverse()
	for i := range n {
		for k := max(0, i-width); k <= i; k++ {
			require.InDelta(t, inverse.At(i, k), z.at(k, i), 1e-12)
		}
	}

	bad := newBand(2, 1)
	bad.add(0, 0, 1)
	bad.add(1, 1, 1)
	bad.add(1, 0, 2)
	require.False(t, bad.factor(), "not positive definite")
}

func TestOrderKeepsNeighborsClose(t *testing.T) {
	const side = 12
	neighbors := make([][]int, side*side)
	for i := range neighbors {
		if i%side > 0 {
			neighbors[i] = append(neighbors[i], i-1)
			neighbors[i-1] = append(neighbors[i-1], i)
		}
		if i >= side {
			neighbors[i] = append(neighbors[i], i-side)
			neighbors[i-side] = append(neighbors[i-side], i)
		}
	}
	number, parts := order(neighbors)
	require.Equal(t, 1, parts)
	seen := map[int]bool{}
	far := 0
	for i, ns := range neighbors {
		seen[number[i]] = true
		for _, k := range ns {
			far = max(far, number[i]-number[k])
		}
	}
	require.Len(t, seen, len(neighbors), "every node has a number of its own")
	require.LessOrEqual(t, far, side+1)
}

// The slope of the objective against differences, looks at joined places among
// them.
func TestSlopeOfObjective(t *testing.T) {
	m := &model{spread: 1.3, level: 0.4, trend: 1.7, link: -0.6, mean: -0.3,
		neighbors: [][]int{{1}, {0, 2}, {1}}, number: []int{0, 1, 2}, z: make([]float64, 6),
		looks: []sight{{nodes: []int{0}, t: 1.5, y: 2, n: 7}, {nodes: []int{1, 2}, t: -2, y: 3, n: 4}, {nodes: []int{2}, t: 0, n: 5}}}
	m.width = m.reach()
	z := []float64{0.3, -0.1, 0.7, 0.2, -0.5, 0.05}
	slope := make([]float64, 6)
	m.objective(z, slope, nil)
	for i := range z {
		const h = 1e-5
		at := func(d float64) float64 {
			v := append([]float64(nil), z...)
			v[i] += d
			return m.objective(v, nil, nil)
		}
		require.InDelta(t, (at(h)-at(-h))/(2*h), slope[i], 1e-6, "coordinate %d", i)
	}
}
