package open

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"sixmile/internal/fault"
)

// column is what a table is sorted by, as addresses say it. byName is how tables
// come unless told otherwise; all others put the most first and rows without
// figures last.
type column string

const (
	byName        column = ""
	byLevel       column = "level"
	byShown       column = "shown"
	byFound       column = "found"
	byBags        column = "bags"
	byFinds       column = "eggs"
	byUnconfirmed column = "unconfirmed"
	byFall        column = "fall"
)

// Columns of the two tables that can be sorted, in their order.
var (
	countyColumns = []column{byName, byLevel, byBags, byFinds, byUnconfirmed, byFall}
	stateColumns  = []column{byName, byShown, byFound, byBags, byFinds}
)

// readColumn reads ?sort=; what is no column of the table is fault.ErrNotFound,
// so that every table has only so many addresses.
func readColumn(q url.Values, among []column) (column, error) {
	c := column(q.Get("sort"))
	if !slices.Contains(among, c) {
		return byName, fmt.Errorf("no such column: %w", fault.ErrNotFound)
	}
	return c, nil
}

// sortHead is a column's head. Without Href it is only a name: in files, which
// cannot ask again.
type sortHead struct {
	Label string
	Num   bool
	Href  string
	Sort  string // aria-sort; "" where the table is sorted by another
}

// sortedAddress is a page's address with its table sorted by a column.
func sortedAddress(address string, by column) string {
	switch {
	case by == byName:
		return address
	case strings.Contains(address, "?"):
		return address + "&sort=" + string(by)
	}
	return address + "?sort=" + string(by)
}

// linkTo makes a head lead to its table sorted by a column; address is the
// page's own.
func (h sortHead) linkTo(address string, by, now column) sortHead {
	h.Href = sortedAddress(address, by) + "#table"
	if by == now {
		if h.Sort = "descending"; by == byName {
			h.Sort = "ascending"
		}
	}
	return h
}

// sortRows puts the rows with the most of a column first. Rows that have none of
// it, and rows alike, stay as they stood.
func sortRows[R any](rows []R, by column, of func(R, column) (n int, has bool)) {
	if by == byName {
		return
	}
	slices.SortStableFunc(rows, func(a, b R) int {
		x, hasX := of(a, by)
		y, hasY := of(b, by)
		switch {
		case hasX != hasY && hasX:
			return -1
		case hasX != hasY:
			return 1
		}
		return cmp.Compare(y, x)
	})
}
