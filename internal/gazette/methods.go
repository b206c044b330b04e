package gazette

import (
	"slices"

	"sixmile/internal/place"
)

// CountedBy says that results of a county which an edition added were counted by
// a method.
type CountedBy struct {
	Edition int
	County  place.ID
	Method  int // the program's number for it; 0: not known, as of results of earlier years
}

// Counting is how many methods stand behind figures that are compared.
type Counting struct {
	Known   int  // different ones
	Unknown bool // and some results whose method is not known
}

// One says that everything was counted in one known way, as far as anything is
// said of it.
func (c Counting) One() bool { return c.Known <= 1 && !c.Unknown }

// Counting looks at what the given editions added to a county. An edition that
// came before methods were noted has none, and says nothing.
func (x *Index) Counting(county place.ID, editions ...int) (c Counting) {
	var seen []int
	for _, m := range x.Issue.CountedBy {
		switch {
		case m.County != county || !slices.Contains(editions, m.Edition):
		case m.Method == 0:
			c.Unknown = true
		case !slices.Contains(seen, m.Method):
			seen = append(seen, m.Method)
		}
	}
	c.Known = len(seen)
	return c
}

// CountingOf is Counting of rounds.
func (x *Index) CountingOf(county place.ID, rounds []Round) Counting {
	var editions []int
	for _, r := range rounds {
		editions = append(editions, r.Edition.Number)
	}
	return x.Counting(county, editions...)
}
