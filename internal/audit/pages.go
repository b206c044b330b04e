package audit

import (
	"bytes"
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/PuerkitoBio/goquery"
)

// County is what a reader of the pages knows of a county: its address and the
// addresses of its townships.
type County struct {
	ID        int
	Slug      string
	Townships map[string]int // number by slug
	// Code and Codes are the same by the codes that files have.
	Code  string
	Codes map[string]int
}

// Pages reads the public pages back: the tables, the sentences with numbers and
// the marks of the maps, of the state and of every county. Sentences are read in
// American English, by the order of their numbers.
type Pages struct {
	// Fetch asks for a page as anybody would.
	Fetch func(ctx context.Context, path string) ([]byte, error)
	// Edition is the one that the pages show.
	Edition  int
	Counties []County
	// Levels are the names of the levels in words, lowest first.
	Levels []string
	// Report may be nil.
	Report Progress
}

// Figures reads them all. The pages show one edition, and there are none of
// another.
func (p Pages) Figures(ctx context.Context, edition int) ([]Claim, error) {
	if edition != p.Edition {
		return nil, nil
	}
	r := &pageReader{Pages: p, byID: make(map[int]County), bySlug: make(map[string]int)}
	for _, c := range p.Counties {
		r.byID[c.ID], r.bySlug[c.Slug] = c, c.ID
	}
	if err := r.visit(ctx, "/", r.state); err != nil {
		return nil, err
	}
	if err := r.visit(ctx, "/map.svg", r.stateMap); err != nil {
		return nil, err
	}
	for i, c := range p.Counties {
		r.county = c
		base := "/county/" + c.Slug
		if err := r.visit(ctx, base, r.countyPage); err != nil {
			return nil, err
		}
		if err := r.visit(ctx, base+"/worth", r.worthPage); err != nil {
			return nil, err
		}
		for _, query := range []string{"", "?ink=1", "?paper=letter-wide"} {
			if err := r.visit(ctx, base+"/map.svg"+query, r.countyMap); err != nil {
				return nil, err
			}
		}
		if p.Report != nil {
			p.Report(i+1, len(p.Counties))
		}
	}
	return r.claims, nil
}

// pageReader collects what one page after another says.
type pageReader struct {
	Pages
	byID   map[int]County
	bySlug map[string]int
	county County // whose page is being read
	path   string
	claims []Claim
	err    error
}

// visit fetches a page and reads it with f.
func (r *pageReader) visit(ctx context.Context, path string, f func(*goquery.Selection)) error {
	body, err := r.Fetch(ctx, path)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	doc, err := goquery.NewDocumentFromReader(bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	r.path = path
	f(doc.Selection)
	return r.err
}

func (r *pageReader) fail(format string, args ...any) {
	if r.err == nil {
		r.err = fmt.Errorf("%s cannot be read back: %s", r.path, fmt.Sprintf(format, args...))
	}
}

func (r *pageReader) claim(s Scope, m Measure, value string) {
	r.claims = append(r.claims, Claim{Source: r.path, Edition: r.Edition, Scope: s, Measure: m, Value: value})
}

// measures claims as many numbers as there are measures, in their order.
func (r *pageReader) measures(s Scope, text string, measures ...Measure) {
	n := numbers(text)
	if len(n) < len(measures) {
		r.fail("%q has %d numbers, and %d are due", text, len(n), len(measures))
		return
	}
	for i, m := range measures {
		if m != "" {
			r.claim(s, m, n[i])
		}
	}
}

// level claims the highest level that a text names. "At least low" is low: the
// least it can be.
func (r *pageReader) level(s Scope, text string) {
	if text = strings.TrimSpace(strings.ToLower(text)); strings.HasPrefix(text, "no figures") {
		r.claim(s, Highest, "-1")
		return
	}
	if rank, ok := r.rank(text); ok {
		r.claim(s, Highest, strconv.Itoa(rank))
		return
	}
	r.fail("no level table has %q", text)
}

func (r *pageReader) rank(text string) (int, bool) {
	text = strings.TrimPrefix(strings.TrimSuffix(text, "."), "at least ")
	for rank, name := range r.Levels {
		if strings.EqualFold(name, text) {
			return rank, true
		}
	}
	return 0, false
}

var digits = regexp.MustCompile(`\d[\d,]*`)

// numbers are the numbers of a text in plain digits.
func numbers(text string) []string {
	out := digits.FindAllString(text, -1)
	for i := range out {
		out[i] = strings.ReplaceAll(out[i], ",", "")
	}
	return out
}

// words is the text of a selection's parts, one after another, its spaces made
// single.
func words(s *goquery.Selection) string {
	parts := s.Map(func(_ int, part *goquery.Selection) string { return part.Text() })
	return strings.Join(strings.Fields(strings.Join(parts, " ")), " ")
}

// label is the text beside a chip, which has a 0 drawn in it for none found.
func label(s *goquery.Selection) string {
	text := s.Clone()
	text.Find("svg").Remove()
	return words(text)
}
