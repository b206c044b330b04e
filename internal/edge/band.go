package edge

import (
	"math"
	"slices"
)

// band is a symmetric matrix whose entries lie near the diagonal, kept as its
// lower half: row i holds columns i-width to i.
type band struct {
	n, width int
	rows     []float64 // n rows of width+1
}

func newBand(n, width int) *band {
	return &band{n: n, width: width, rows: make([]float64, n*(width+1))}
}

func (b *band) add(i, k int, v float64) {
	if k > i {
		i, k = k, i
	}
	b.rows[i*(b.width+1)+k-i+b.width] += v
}

func (b *band) row(i int) []float64 { return b.rows[i*(b.width+1) : (i+1)*(b.width+1)] }

// factor is Cholesky's L of a positive definite band, in place of it: L Lᵀ.
// False where it is not positive definite.
func (b *band) factor() bool {
	w := b.width
	for i := range b.n {
		ri := b.row(i)
		for k := max(0, i-w); k <= i; k++ {
			rk := b.row(k)
			lo := max(0, i-w, k-w)
			sum := ri[k-i+w]
			x, y := ri[lo-i+w:k-i+w], rk[lo-k+w:w]
			sum -= dot(x, y)
			if k < i {
				ri[k-i+w] = sum / rk[w]
				continue
			}
			if !(sum > 0) {
				return false
			}
			ri[w] = math.Sqrt(sum)
		}
	}
	return true
}

// dot is the scalar product, in four strands: one would wait for itself. The race
// detector does not look at it (nor at axpy): both see what one goroutine has made
// and no other knows of, and with it every surface would take ten times as long.
//
//go:norace
func dot(x, y []float64) float64 {
	var a, b, c, d float64
	y = y[:len(x)]
	for len(x) >= 4 {
		a += float64(x[0] * y[0])
		b += float64(x[1] * y[1])
		c += float64(x[2] * y[2])
		d += float64(x[3] * y[3])
		x, y = x[4:], y[4:]
	}
	for i, v := range x {
		a += float64(v * y[i])
	}
	return a + b + c + d
}

// logDet is the logarithm of the determinant of a factored band's matrix.
func (b *band) logDet() float64 {
	sum := 0.0
	for i := range b.n {
		sum += math.Log(b.row(i)[b.width])
	}
	return 2 * sum
}

// down solves L x = v from row from on, above which v is zero; x takes v's place.
func (b *band) down(v []float64, from int) {
	w := b.width
	for i := from; i < b.n; i++ {
		ri, sum := b.row(i), v[i]
		for k := max(from, i-w); k < i; k++ {
			sum -= float64(ri[k-i+w] * v[k])
		}
		v[i] = sum / ri[w]
	}
}

// up solves Lᵀ x = v; x takes v's place.
func (b *band) up(v []float64) {
	w := b.width
	for i := b.n - 1; i >= 0; i-- {
		ri := b.row(i)
		v[i] /= ri[w]
		for k := max(0, i-w); k < i; k++ {
			v[k] -= float64(ri[k-i+w] * v[i])
		}
	}
}

// inverse is of a factored band's matrix the inverse, as far as it lies in the
// band: the rest of it is full and is not worked out (Takahashi, Fagan and Chen
// 1973, from memory). From the last row up, a row's entries follow from those
// below it: Z(i,·) = -Σ L(k,i) Z(k,·) / L(i,i) over the k below i.
func (b *band) inverse() *band {
	w, z := b.width, newBand(b.n, b.width)
	column, sums := make([]float64, w), make([]float64, w)
	for i := b.n - 1; i >= 0; i-- {
		below := min(w, b.n-1-i)
		c, y := column[:below], sums[:below]
		for k := range c {
			c[k] = b.row(i + 1 + k)[w-1-k]
			y[k] = 0
		}
		for j := range c { // y = Z c, of which Z's lower half is kept
			zj := z.row(i + 1 + j)[w-j:]
			y[j] += dot(zj[:j+1], c[:j+1])
			axpy(y[:j], c[j], zj[:j])
		}
		d := b.row(i)[w]
		sum := 0.0
		for k := range c {
			z.row(i + 1 + k)[w-1-k] = -y[k] / d
			sum += float64(c[k] * -y[k] / d)
		}
		z.row(i)[w] = (1/d - sum) / d
	}
	return z
}

// axpy adds a multiple of x to y.
//
//go:norace
func axpy(y []float64, by float64, x []float64) {
	x = x[:len(y)]
	for i := range y {
		y[i] += float64(by * x[i])
	}
}

// at is an entry within the band.
func (b *band) at(i, k int) float64 {
	if k > i {
		i, k = k, i
	}
	return b.row(i)[k-i+b.width]
}

// order numbers the nodes of a graph so that neighbors' numbers are close:
// breadth first from a node at the rim, few neighbors first (Cuthill and McKee
// 1969). It returns each node's number, and how many parts hang together.
func order(neighbors [][]int) (number []int, parts int) {
	number = make([]int, len(neighbors))
	for i := range number {
		number[i] = -1
	}
	next := 0
	for i := range neighbors {
		if number[i] >= 0 {
			continue
		}
		parts++
		// The last node reached from any is at the rim.
		reached := walk(neighbors, i)
		for _, node := range walk(neighbors, reached[len(reached)-1]) {
			number[node] = next
			next++
		}
	}
	return number, parts
}

// walk lists what is connected to a node, nearest first.
func walk(neighbors [][]int, from int) []int {
	seen := map[int]bool{from: true}
	out := []int{from}
	for at := 0; at < len(out); at++ {
		next := slices.Clone(neighbors[out[at]])
		slices.SortStableFunc(next, func(a, b int) int { return len(neighbors[a]) - len(neighbors[b]) })
		for _, n := range next {
			if !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	return out
}
