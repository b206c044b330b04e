package office

import (
	"encoding/hex"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// field is one input as a page shows it: what was typed and what is wrong with it.
type field struct {
	Name    string // of the input; also its id
	Value   string
	Problem string // a sentence; empty for none
}

// refusal is a line of the summary over a refused form; it leads to its field.
// Without an ID it is a sentence: the field is not on the page, or not any more.
type refusal struct{ ID, Text string }

// refusals lists the problems of fields in their order on the page.
func refusals(fields ...field) []refusal {
	var out []refusal
	for _, f := range fields {
		if f.Problem != "" {
			out = append(out, refusal{f.Name, f.Problem})
		}
	}
	return out
}

// naming puts the labels of fields before their lines of the summary, where several
// fields of one form may have the same problem.
func naming(list []refusal, labels map[string]string) []refusal {
	out := slices.Clone(list)
	for i, r := range out {
		if label := labels[r.ID]; label != "" {
			out[i].Text = label + ": " + r.Text
		}
	}
	return out
}

// astray are the problems of fields that the page does not have: what was sent
// belongs to a page as it was before.
func astray(list []refusal) []refusal {
	out := slices.Clone(list)
	for i := range out {
		out[i].ID = ""
	}
	return out
}

// described is the value of aria-describedby: the hint and the problem, as far
// as there are any.
func (f field) described(hint string) string {
	var ids []string
	if hint != "" {
		ids = append(ids, f.Name+"-hint")
	}
	if f.Problem != "" {
		ids = append(ids, f.Name+"-wrong")
	}
	return strings.Join(ids, " ")
}

// maxTyped bounds what is kept of one line, in characters: far more than
// anything that belongs there, and little enough to show again.
const maxTyped = 200

// posted reads a form's own values.
func posted(r *http.Request) (url.Values, error) { return shell.Posted(r) }

// line is one typed line, without the space around it.
func line(v url.Values, name string) string {
	return shorten(v.Get(name))
}

// shorten is one line as it may be shown again.
func shorten(s string) string {
	s = strings.TrimSpace(strings.ToValidUTF8(s, "\uFFFD"))
	if r := []rune(s); len(r) > maxTyped {
		return string(r[:maxTyped])
	}
	return s
}

// scanned takes the bag code out of what a scanner typed: labels carry a square
// code with the form's whole address, of which the bag's code is the last part.
func scanned(s string) string {
	s = strings.TrimSpace(s)
	if !strings.Contains(s, "://") {
		return s
	}
	s = strings.TrimRight(s, "/")
	return s[strings.LastIndexAny(s, "/?=#&")+1:]
}

// codeProblem says in words what is wrong with a code somebody typed.
func codeProblem(l *catalog.Lang, err error) string {
	var pe *bag.ParseError
	if !errors.As(err, &pe) {
		return ""
	}
	switch {
	case pe.Reason == bag.Empty:
		return l.Say("office.code.empty")
	case pe.Reason == bag.WrongLength:
		return l.Count("office.code.length", pe.Count)
	case pe.LookAlike():
		return l.Say("office.code.lookalike", "letter", string(pe.Letter), "at", pe.Place)
	case pe.Reason == bag.Letter:
		return l.Say("office.code.letter", "letter", string(pe.Letter), "at", pe.Place)
	}
	return l.Say("office.code.check")
}

// idText writes a random number for an address or a hidden field; empty for none.
func idText(id desk.ID) string {
	if id == (desk.ID{}) {
		return ""
	}
	return hex.EncodeToString(id[:])
}

// parseID reads what idText wrote.
func parseID(s string) (desk.ID, bool) {
	if s == "" {
		return desk.ID{}, true
	}
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(desk.ID{}) {
		return desk.ID{}, false
	}
	return desk.ID(b), true
}

// currentSeason is the season that opened last; before the first one opens, the
// first. False when there is none.
func currentSeason(seasons []sample.Season, today time.Time) (sample.Season, bool) {
	if len(seasons) == 0 {
		return sample.Season{}, false
	}
	byYear := slices.SortedFunc(slices.Values(seasons), func(a, b sample.Season) int { return a.Year - b.Year })
	current := byYear[0]
	for _, s := range byYear {
		if !s.Opens.After(today) {
			current = s
		}
	}
	return current, true
}

// gazetteer finds places and their counties by number.
type gazetteer map[place.ID]place.Place

func newGazetteer(places []place.Place) gazetteer {
	g := make(gazetteer, len(places))
	for _, p := range places {
		g[p.ID] = p
	}
	return g
}

// name is a place's label; a place of an older boundary set has none here.
func (g gazetteer) name(l *catalog.Lang, id place.ID) string {
	if p, ok := g[id]; ok {
		return p.Label()
	}
	return l.Say("office.place.gone")
}

// counties lists the counties by name.
func counties(places []place.Place) []place.Place {
	var out []place.Place
	for _, p := range places {
		if p.Kind == place.County {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b place.Place) int { return strings.Compare(a.Name, b.Name) })
	return out
}
