package features

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Bounds of a page.
const (
	DefaultLimit = 100
	MaxLimit     = 1000
)

// Box is west, south, east, north in degrees. West is over east where it goes
// around the back of the earth.
type Box [4]float64

// Split is the box as one or two that do not go around the back of the earth.
func (b Box) Split() []Box {
	if b[0] <= b[2] {
		return []Box{b}
	}
	return []Box{{b[0], b[1], 180, b[3]}, {-180, b[1], b[2], b[3]}}
}

// Query is what is asked of a collection.
type Query struct {
	Limit, Offset int
	BBox          *Box
	Datetime      string // checked; there is nothing in time to compare it with
	Filter        map[string]string
}

// BadRequest says what is wrong with a request; the answer is 400.
type BadRequest struct{ Parameter, Why string }

func (e *BadRequest) Error() string { return fmt.Sprintf("%s: %s", e.Parameter, e.Why) }

func bad(parameter, why string, args ...any) error {
	return &BadRequest{parameter, fmt.Sprintf(why, args...)}
}

// ParseItems reads the question of an items request. fields are the properties
// that can be asked for by equality. Whatever else is asked is *BadRequest
// (Requirements 8 and 9), and so is a parameter given twice.
func ParseItems(q url.Values, fields []string) (Query, error) {
	out := Query{Limit: DefaultLimit, Filter: map[string]string{}}
	for name, values := range q {
		if len(values) != 1 {
			return out, bad(name, "it is given %d times", len(values))
		}
		var err error
		switch v := values[0]; {
		case name == "f":
		case name == "limit":
			out.Limit, err = parseLimit(v)
		case name == "offset":
			if out.Offset, err = strconv.Atoi(v); err != nil || out.Offset < 0 {
				err = bad(name, "a whole number from 0 is needed")
			}
		case name == "bbox":
			out.BBox, err = ParseBox(v)
		case name == "datetime":
			out.Datetime, err = v, checkDatetime(v)
		case slices.Contains(fields, name):
			out.Filter[name] = v
		default:
			err = bad(name, "there is no such parameter")
		}
		if err != nil {
			return out, err
		}
	}
	return out, nil
}

// Only refuses every parameter but f.
func Only(q url.Values) error {
	for name, values := range q {
		if name != "f" {
			return bad(name, "there is no such parameter")
		}
		if len(values) != 1 {
			return bad(name, "it is given %d times", len(values))
		}
	}
	return nil
}

// parseLimit: a limit over the largest is no error and gives the largest
// (Requirement 22).
func parseLimit(s string) (int, error) {
	n, err := strconv.ParseUint(s, 10, 63)
	if err != nil || n < 1 {
		return 0, bad("limit", "a whole number from 1 is needed")
	}
	return int(min(n, MaxLimit)), nil
}

// ParseBox reads four numbers, or six with heights, which are passed over
// (Requirement 23).
func ParseBox(s string) (*Box, error) {
	parts := strings.Split(s, ",")
	if len(parts) == 6 {
		parts = []string{parts[0], parts[1], parts[3], parts[4]}
	}
	if len(parts) != 4 {
		return nil, bad("bbox", "four numbers are needed: west, south, east, north")
	}
	var b Box
	for i, p := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, bad("bbox", "four numbers are needed: west, south, east, north")
		}
		b[i] = v
	}
	if b[1] > b[3] {
		return nil, bad("bbox", "the south edge lies north of the north edge")
	}
	if b[0] < -180 || b[0] > 180 || b[2] < -180 || b[2] > 180 || b[1] < -90 || b[3] > 90 {
		return nil, bad("bbox", "degrees are needed: longitude from -180 to 180, latitude from -90 to 90")
	}
	return &b, nil
}

// checkDatetime checks the form of an instant or an interval (Requirement 25).
func checkDatetime(s string) error {
	from, to, interval := strings.Cut(s, "/")
	a, okA := instant(from, interval)
	b, okB := instant(to, interval)
	switch {
	case !okA, interval && !okB, interval && a.IsZero() && b.IsZero():
		return bad("datetime", "a date, a date with time, or two of them with / between are needed")
	case interval && !a.IsZero() && !b.IsZero() && b.Before(a):
		return bad("datetime", "the interval ends before it begins")
	}
	return nil
}

// instant reads one end; an open one is the zero time.
func instant(s string, interval bool) (time.Time, bool) {
	if interval && (s == "" || s == "..") {
		return time.Time{}, true
	}
	for _, form := range []string{time.RFC3339, time.DateOnly} {
		if t, err := time.Parse(form, s); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}

// Holds tells whether a feature's fields are what is asked for.
func (q Query) Holds(p Properties) bool {
	for name, want := range q.Filter {
		if v := p.Get(name); v == nil || fmt.Sprint(v) != want {
			return false
		}
	}
	return true
}

// Cut is the part of n features that a page holds: from and up to.
func (q Query) Cut(n int) (from, to int) {
	from = min(q.Offset, n)
	return from, min(from+q.Limit, n)
}

// At is the question of the page that begins at an offset: what was asked, with
// another offset. A page that begins at 0 does not say so.
func At(asked url.Values, offset int) string {
	q := url.Values{}
	for name, values := range asked {
		q[name] = values
	}
	q.Del("offset")
	if offset > 0 {
		q.Set("offset", strconv.Itoa(offset))
	}
	return q.Encode()
}
