package open

import (
	"fmt"
	"net/url"
	"strings"

	"sixmile/internal/atlas"
	"sixmile/internal/fault"
)

// stateChoice is what somebody wants to see of the state. Both parts are of a
// short list, so there are only so many choices, and each has one address.
type stateChoice struct {
	measure   atlas.Measure
	townships bool // drawn by townships instead of counties
}

// readStateChoice reads an address's question; what is on no list is
// fault.ErrNotFound.
func readStateChoice(q url.Values) (c stateChoice, err error) {
	if s := q.Get("show"); s != "" {
		if c.measure, err = atlas.ParseMeasure(s); err != nil {
			return c, fmt.Errorf("%w: %w", fault.ErrNotFound, err)
		}
	}
	switch q.Get("by") {
	case "":
	case "townships":
		c.townships = true
	default:
		return c, fmt.Errorf("no such division: %w", fault.ErrNotFound)
	}
	return c, nil
}

// query is the one question that asks for the choice, "?" included; "" for the
// map that is shown unless told otherwise.
func (c stateChoice) query() string {
	var parts []string
	if c.measure != 0 {
		parts = append(parts, "show="+c.measure.String())
	}
	if c.townships {
		parts = append(parts, "by=townships")
	}
	if len(parts) == 0 {
		return ""
	}
	return "?" + strings.Join(parts, "&")
}
