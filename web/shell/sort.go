package shell

import (
	"cmp"
	"slices"
	"strings"
)

// Column is what a table is sorted by, as addresses say it; "" is how its rows
// come unless told otherwise.
type Column string

// ColumnHead is the head of a table's column. Without Href it is only a name:
// nothing to sort by, or in a file, which cannot ask again.
type ColumnHead struct {
	Label string
	Num   bool
	Href  string
	Sort  string // aria-sort; "" where the table is sorted by another
}

// Leading is the head with a link to its table sorted by the column; now tells
// that it is sorted so already, and down that the most comes first.
func (h ColumnHead) Leading(href string, now, down bool) ColumnHead {
	h.Href, h.Sort = href, ""
	switch {
	case now && down:
		h.Sort = "descending"
	case now:
		h.Sort = "ascending"
	}
	return h
}

// SortedAddress is a page's address with its table sorted by a column.
func SortedAddress(address string, by Column) string {
	switch {
	case by == "":
		return address
	case strings.Contains(address, "?"):
		return address + "&sort=" + string(by)
	}
	return address + "?sort=" + string(by)
}

// SortRows sorts rows by what they have of a column: the most first where it
// goes down, the least first where not. Rows that have none of it come last
// either way; rows alike stay as they stood.
func SortRows[R any, N cmp.Ordered](rows []R, down bool, of func(R) (n N, has bool)) {
	slices.SortStableFunc(rows, func(a, b R) int {
		x, hasX := of(a)
		y, hasY := of(b)
		switch {
		case hasX != hasY && hasX:
			return -1
		case hasX != hasY:
			return 1
		case !hasX:
			return 0
		case down:
			return cmp.Compare(y, x)
		}
		return cmp.Compare(x, y)
	})
}
