package outline

import (
	"cmp"
	"math"
	"slices"
)

// box holds its edges.
type box struct{ x0, y0, x1, y1 int32 }

func boxOf(a, b Point) box {
	return box{min(a.X, b.X), min(a.Y, b.Y), max(a.X, b.X), max(a.Y, b.Y)}
}

func (b box) meets(c box) bool {
	return b.x0 <= c.x1 && c.x0 <= b.x1 && b.y0 <= c.y1 && c.y0 <= b.y1
}

func (b box) around(c box) box {
	return box{min(b.x0, c.x0), min(b.y0, c.y0), max(b.x1, c.x1), max(b.y1, c.y1)}
}

// fan is how many boxes one box of the next level holds.
const fan = 8

// tree finds boxes quickly. It is packed once and then only read.
type tree struct {
	items  []int32 // numbers of the boxes in the order of levels[0]
	levels [][]box
}

// newTree packs boxes: strips from west to east, in each from south to north.
func newTree(boxes []box) *tree {
	t := &tree{items: make([]int32, len(boxes))}
	for i := range t.items {
		t.items[i] = int32(i)
	}
	middle := func(lo, hi int32) int64 { return int64(lo) + int64(hi) }
	slices.SortFunc(t.items, func(i, j int32) int {
		return cmp.Or(cmp.Compare(middle(boxes[i].x0, boxes[i].x1), middle(boxes[j].x0, boxes[j].x1)), cmp.Compare(i, j))
	})
	strip := fan * max(1, int(math.Sqrt(float64(len(boxes))/fan)))
	for at := 0; at < len(t.items); at += strip {
		slices.SortFunc(t.items[at:min(at+strip, len(t.items))], func(i, j int32) int {
			return cmp.Or(cmp.Compare(middle(boxes[i].y0, boxes[i].y1), middle(boxes[j].y0, boxes[j].y1)), cmp.Compare(i, j))
		})
	}
	level := make([]box, len(boxes))
	for i, item := range t.items {
		level[i] = boxes[item]
	}
	t.levels = append(t.levels, level)
	for len(level) > 1 {
		next := make([]box, 0, (len(level)+fan-1)/fan)
		for at := 0; at < len(level); at += fan {
			b := level[at]
			for _, c := range level[at+1 : min(at+fan, len(level))] {
				b = b.around(c)
			}
			next = append(next, b)
		}
		t.levels = append(t.levels, next)
		level = next
	}
	return t
}

// visit calls do for every box that hit is true of. hit must be true of a box
// if it is true of one inside it. do ends the search by returning false.
func (t *tree) visit(hit func(box) bool, do func(item int32) bool) {
	if len(t.items) > 0 {
		t.descend(len(t.levels)-1, 0, hit, do)
	}
}

func (t *tree) descend(level, at int, hit func(box) bool, do func(int32) bool) bool {
	if !hit(t.levels[level][at]) {
		return true
	}
	if level == 0 {
		return do(t.items[at])
	}
	for i := at * fan; i < min((at+1)*fan, len(t.levels[level-1])); i++ {
		if !t.descend(level-1, i, hit, do) {
			return false
		}
	}
	return true
}

// near reports whether the segment from a to b comes into a box made larger by
// a half on each side, or touches it.
func (c box) near(a, b Point) bool {
	if !c.meets(boxOf(a, b)) {
		return false // endpoints are whole, so half more on each side reaches nothing new
	}
	dx, dy := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y)
	// Twice the box's center as seen from a, and twice its half-widths.
	cx, cy := int64(c.x0)+int64(c.x1)-2*int64(a.X), int64(c.y0)+int64(c.y1)-2*int64(a.Y)
	wx, wy := int64(c.x1)-int64(c.x0)+1, int64(c.y1)-int64(c.y0)+1
	return abs(dx*cy-dy*cx) <= wx*abs(dy)+wy*abs(dx)
}

// through reports whether the segment from a to b passes through the unit square
// around p, which is neither. The square has its west and south side, but not
// its east and north: no point of the plane is in two.
func through(p, a, b Point) bool {
	if !boxOf(p, p).meets(boxOf(a, b)) {
		return false
	}
	dx, dy := int64(b.X)-int64(a.X), int64(b.Y)-int64(a.Y)
	px, py := 2*(int64(p.X)-int64(a.X)), 2*(int64(p.Y)-int64(a.Y))
	// On which side of the line the square's corners are, southwest first.
	var left, right bool
	for i, c := range [4][2]int64{{px - 1, py - 1}, {px + 1, py - 1}, {px + 1, py + 1}, {px - 1, py + 1}} {
		side := dx*c[1] - dy*c[0]
		if side == 0 && i == 0 {
			return true
		}
		left, right = left || side > 0, right || side < 0
	}
	return left && right
}

// passesOver reports whether p lies on the segment from a to b.
func passesOver(p, a, b Point) bool { return boxOf(p, p).meets(boxOf(a, b)) && cross(a, b, p) == 0 }

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}
