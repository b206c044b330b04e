package office

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"sixmile/web/shell"
)

// sortColumn is a column of a table that its heads sort. Made by the functions
// below.
type sortColumn[R any] struct {
	by    shell.Column
	label string
	num   bool // its figures stand at the right
	down  bool // the most first, until it is asked for the other way round
	fixed bool // nothing to sort by
	sort  func(rows []R, down bool)
}

// inOrder is the column in whose order the rows come.
func inOrder[R any](label string, num, down bool) sortColumn[R] {
	return sortColumn[R]{label: label, num: num, down: down}
}

// inStore is a column that the store has sorted the rows by already: they are
// more than are shown.
func inStore[R any](by shell.Column, label string) sortColumn[R] {
	return sortColumn[R]{by: by, label: label}
}

// notSorted is a column that nobody would want a table sorted by.
func notSorted[R any](label string, num bool) sortColumn[R] {
	return sortColumn[R]{label: label, num: num, fixed: true}
}

// byMost sorts by numbers, the most first; rows without one come last.
func byMost[R any](by shell.Column, label string, of func(R) (n float64, has bool)) sortColumn[R] {
	return sortColumn[R]{by: by, label: label, num: true, down: true, sort: func(rows []R, down bool) { shell.SortRows(rows, down, of) }}
}

// byNumber is byMost of what every row has.
func byNumber[R any](by shell.Column, label string, of func(R) int) sortColumn[R] {
	return byMost(by, label, func(r R) (float64, bool) { return float64(of(r)), true })
}

// left is the column where its figures stand at the left, among words.
func (c sortColumn[R]) left() sortColumn[R] {
	c.num = false
	return c
}

// byWords sorts by words, from A on; rows without come last.
func byWords[R any](by shell.Column, label string, of func(R) string) sortColumn[R] {
	return sortColumn[R]{by: by, label: label, sort: func(rows []R, down bool) {
		shell.SortRows(rows, down, func(r R) (string, bool) { w := strings.ToLower(of(r)); return w, w != "" })
	}}
}

// byDay sorts by days, the newest first; rows without one, a zero day, come last.
func byDay[R any](by shell.Column, label string, of func(R) time.Time) sortColumn[R] {
	return byMost(by, label, func(r R) (float64, bool) { return float64(of(r).Unix()), !of(r).IsZero() }).left()
}

// sorting is by what a table of a page is sorted, and where its heads lead.
type sorting struct {
	path, param, anchor string
	query               url.Values // what the page keeps of what it was asked
	by                  shell.Column
	back                bool // the other way round
}

// readSorting reads what a page was asked for: param names the table's order, as
// in ?sort=bags or, the other way round, ?sort=-bags; anchor is what the heads
// lead to, and keep are the names of what else the page was asked.
func readSorting(r *http.Request, param, anchor string, keep ...string) sorting {
	q := r.URL.Query()
	s := sorting{path: r.URL.Path, param: param, anchor: anchor, query: url.Values{}}
	for _, name := range keep {
		if v := line(q, name); v != "" {
			s.query.Set(name, v)
		}
	}
	by, back := strings.CutPrefix(line(q, param), "-")
	s.by, s.back = shell.Column(by), back
	return s
}

// address is the page with the table sorted by a column.
func (s sorting) address(by shell.Column, back bool) string {
	q := url.Values{}
	for name, v := range s.query {
		q[name] = v
	}
	switch {
	case back:
		q.Set(s.param, "-"+string(by))
	case by != "":
		q.Set(s.param, string(by))
	}
	if len(q) == 0 {
		return s.path
	}
	return s.path + "?" + q.Encode()
}

// here is the page as it stands, for forms that come back to it.
func (s sorting) here() string { return s.address(s.by, s.back) }

// arrange sorts rows as the page was asked to and gives the table's heads. What
// is no column of the table is forgotten. A second look at the same column turns
// it round, but for the one in whose order the rows come.
func arrange[R any](s *sorting, rows []R, columns ...sortColumn[R]) []shell.ColumnHead {
	sorts := func(c sortColumn[R]) bool { return !c.fixed && c.by == s.by }
	at := slices.IndexFunc(columns, sorts)
	if at < 0 {
		s.by, s.back = "", false
		at = slices.IndexFunc(columns, sorts)
	}
	if at >= 0 && columns[at].sort != nil {
		columns[at].sort(rows, columns[at].down != s.back)
	} else {
		s.back = false
	}
	heads := make([]shell.ColumnHead, len(columns))
	for i, c := range columns {
		heads[i] = shell.ColumnHead{Label: c.label, Num: c.num}
		if !c.fixed {
			now := i == at
			turned := now && c.sort != nil && !s.back
			heads[i] = heads[i].Leading(s.address(c.by, turned)+"#"+s.anchor, now, c.down != (now && s.back))
		}
	}
	return heads
}
