package atlas

import (
	"cmp"
	"slices"
)

// ReadingOrder gives boxes in the order in which a page is read: row by row from
// the top, each from the left. A row is what has its middle above the middle of the
// next: rows that lean a little stay rows. The focus goes over a map in this order.
func ReadingOrder(boxes []Box) []int {
	left := make([]int, len(boxes))
	for i := range left {
		left[i] = i
	}
	slices.SortStableFunc(left, func(i, j int) int { return cmp.Compare(boxes[i].center().Y, boxes[j].center().Y) })
	out := make([]int, 0, len(boxes))
	for len(left) > 0 {
		first := boxes[left[0]]
		until := first.center().Y + first.height()/2
		n := 1
		for n < len(left) && boxes[left[n]].center().Y < until {
			n++
		}
		row := left[:n]
		slices.SortStableFunc(row, func(i, j int) int { return cmp.Compare(boxes[i].center().X, boxes[j].center().X) })
		out, left = append(out, row...), left[n:]
	}
	return out
}
