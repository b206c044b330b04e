package open

import (
	"fmt"
	"net/url"
	"slices"

	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// What the two tables of places can be sorted by. byName is how they come unless
// told otherwise; all others put the most first and rows without figures last.
const (
	byName        shell.Column = ""
	byLevel       shell.Column = "level"
	byShown       shell.Column = "shown"
	byFound       shell.Column = "found"
	byBags        shell.Column = "bags"
	byFinds       shell.Column = "eggs"
	byUnconfirmed shell.Column = "unconfirmed"
	byFall        shell.Column = "fall"
)

// Columns of the two tables, in their order.
var (
	countyColumns = []shell.Column{byName, byLevel, byBags, byFinds, byUnconfirmed, byFall}
	stateColumns  = []shell.Column{byName, byShown, byFound, byBags, byFinds}
)

// readColumn reads ?sort=; what is no column of the table is fault.ErrNotFound,
// so that every table has only so many addresses.
func readColumn(q url.Values, among []shell.Column) (shell.Column, error) {
	c := shell.Column(q.Get("sort"))
	if !slices.Contains(among, c) {
		return byName, fmt.Errorf("no such column: %w", fault.ErrNotFound)
	}
	return c, nil
}

// leading makes the heads of a table's columns lead to it sorted by them; address
// is the page's own.
func leading(heads []shell.ColumnHead, address string, among []shell.Column, now shell.Column) {
	for i, c := range among {
		heads[i] = heads[i].Leading(shell.SortedAddress(address, c)+"#table", c == now, c != byName)
	}
}

// sortRows puts the rows with the most of a column first.
func sortRows[R any](rows []R, by shell.Column, of func(R, shell.Column) (n int, has bool)) {
	if by != byName {
		shell.SortRows(rows, true, func(r R) (int, bool) { return of(r, by) })
	}
}
