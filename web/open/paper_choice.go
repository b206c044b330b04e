package open

import (
	"fmt"
	"net/url"
	"slices"

	"sixmile/internal/atlas"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
)

// layer is something that can be left off a map.
type layer uint8

const (
	neighborLayer layer = 1 << iota
	riverLayer
	ridgeLayer
	townLayer
	roadLayer
)

// layerNames are the layers' names in addresses, in canonical order.
var layerNames = []struct {
	layer
	name string
}{{neighborLayer, "neighbors"}, {riverLayer, "rivers"}, {ridgeLayer, "ridge"}, {townLayer, "towns"}, {roadLayer, "roads"}}

// sheetPapers are the papers that can be chosen, the one that is chosen unless
// told otherwise first. The others follow a page's width.
var sheetPapers = []atlas.Paper{
	atlas.LetterWide, atlas.LetterTall, atlas.Slide, atlas.TabloidWide, atlas.TabloidTall, atlas.HalfLetter,
}

// choice is what somebody wants of a map on paper. Every part is of a short list,
// so there are only so many choices, and each has one address.
type choice struct {
	measure atlas.Measure
	code    string // of the edition; "" before the first
	without layer
	paper   atlas.Paper
	theme   press.Theme
}

// parts says which parts of a choice make a difference to a file.
type parts uint8

const (
	byMeasure parts = 1 << iota
	byLayers
	byPaper
	byTheme

	everyPart = byMeasure | byLayers | byPaper | byTheme
)

// readChoice reads an address's question. What is not on a list, such as an
// edition that does not stand, is fault.ErrNotFound; what is left out is the
// first of its list, and of the editions the newest. Names it does not know are
// passed over: the canonical address has none.
func readChoice(q url.Values, editions []gazette.Edition) (c choice, err error) {
	c.paper = sheetPapers[0]
	if n := len(editions); n > 0 {
		c.code = editions[n-1].Code
	}
	if s := q.Get("map"); s != "" {
		if !slices.ContainsFunc(editions, func(e gazette.Edition) bool { return e.Code == s }) {
			return c, fmt.Errorf("no such edition: %w", fault.ErrNotFound)
		}
		c.code = s
	}
	if s := q.Get("show"); s != "" {
		if c.measure, err = atlas.ParseMeasure(s); err != nil {
			return c, fmt.Errorf("%w: %w", fault.ErrNotFound, err)
		}
	}
	for _, s := range q["without"] {
		l, err := readLayer(s)
		if err != nil {
			return c, err
		}
		c.without |= l
	}
	if s := q.Get("paper"); s != "" {
		c.paper, err = atlas.ParsePaper(s)
		if err == nil && !slices.Contains(sheetPapers, c.paper) {
			err = fmt.Errorf("%v is no sheet", c.paper)
		}
		if err != nil {
			return c, fmt.Errorf("%w: %w", fault.ErrNotFound, err)
		}
	}
	if s := q.Get("look"); s != "" {
		if c.theme, err = press.ParseTheme(s); err != nil {
			return c, fmt.Errorf("%w: %w", fault.ErrNotFound, err)
		}
	}
	return c, nil
}

func readLayer(s string) (layer, error) {
	for _, l := range layerNames {
		if l.name == s {
			return l.layer, nil
		}
	}
	return 0, fmt.Errorf("no layer %q: %w", s, fault.ErrNotFound)
}

// only resets the parts that make no difference.
func (c choice) only(p parts) choice {
	if p&byMeasure == 0 {
		c.measure = 0
	}
	if p&byLayers == 0 {
		c.without = 0
	}
	if p&byPaper == 0 {
		c.paper = sheetPapers[0]
	}
	if p&byTheme == 0 {
		c.theme = press.Color
	}
	return c
}

// query is the choice as the one question that asks for it, "?" included; ""
// where everything is as it is unless told otherwise. A file's address names the
// edition always, so that it stays the address of that edition; a page's only
// where it is not the newest one.
func (c choice) query(newest string) string {
	var out []byte
	put := func(key, value string) {
		sep := byte('&')
		if out == nil {
			sep = '?'
		}
		out = append(out, sep)
		out = append(out, key+"="+url.QueryEscape(value)...)
	}
	if c.measure != 0 {
		put("show", c.measure.String())
	}
	if c.code != newest {
		put("map", c.code)
	}
	for _, l := range layerNames {
		if c.without&l.layer != 0 {
			put("without", l.name)
		}
	}
	if c.paper != sheetPapers[0] {
		put("paper", c.paper.String())
	}
	if c.theme != press.Color {
		put("look", c.theme.String())
	}
	return string(out)
}

// canonical tells whether a raw query is the choice's own; given is without "?".
func (c choice) canonical(given, newest string) bool {
	want := c.query(newest)
	return want == "" && given == "" || want == "?"+given
}

// parts of the name of a file beside county and edition.
func (c choice) words() []string {
	var out []string
	if c.measure != 0 {
		out = append(out, c.measure.String())
	}
	for _, l := range layerNames {
		if c.without&l.layer != 0 {
			out = append(out, "no-"+l.name)
		}
	}
	return out
}
