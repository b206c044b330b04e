// Package fault names the ways in which something asked for cannot be done.
// Pure packages and stores return these; web turns them into answers.
package fault

import (
	"errors"
	"sort"
	"strings"
)

var (
	// ErrNotFound: there is no such thing, or it is none of the asker's business.
	ErrNotFound = errors.New("not found")
	// ErrForbidden: signed in, but this is not among the role's duties.
	ErrForbidden = errors.New("not allowed")
	// ErrConflict: somebody else changed it in the meantime.
	ErrConflict = errors.New("changed in the meantime")
	// ErrUnavailable: the database cannot be reached just now; try again.
	ErrUnavailable = errors.New("not available right now")
	// ErrBusy: so many ask that this one waited too long for its turn; try again.
	ErrBusy = errors.New("too busy right now")
)

// Problem is what is wrong with one field: the key of a sentence in the catalog
// and its arguments, as name, value pairs.
type Problem struct {
	Key  string
	Args []any
}

// Invalid is input that breaks a rule, field by field. The empty field name
// stands for the form as a whole.
type Invalid struct {
	Fields map[string]Problem
}

// Error names the fields and the rules, never what was typed.
func (e *Invalid) Error() string {
	parts := make([]string, 0, len(e.Fields))
	for f, p := range e.Fields {
		parts = append(parts, f+": "+p.Key)
	}
	sort.Strings(parts)
	return "invalid input: " + strings.Join(parts, ", ")
}

// Add notes a problem; the first one at a field stands.
func (e *Invalid) Add(field, key string, args ...any) {
	if e.Fields == nil {
		e.Fields = map[string]Problem{}
	}
	if _, there := e.Fields[field]; !there {
		e.Fields[field] = Problem{Key: key, Args: args}
	}
}

// OrNil is e as an error, or nil where nothing was noted.
func (e *Invalid) OrNil() error {
	if e == nil || len(e.Fields) == 0 {
		return nil
	}
	return e
}
