package office

import (
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/annual/tally"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// summaryView is the page of a copy that is being made, or is made.
type summaryView struct {
	Path, Copy, What string
	Doing, File      string
	Done, Of         int
	Ready, Failed    bool
	Size             string
	Match            []fact
	Verdict          string
	Agrees           bool
}

// annualShow is how far a copy has come; while it is made the browser asks again
// every second, without a script. Who leaves finds it again at its address.
func (o *office) annualShow(w http.ResponseWriter, r *http.Request) error {
	s, err := o.summaries.find(chi.URLParam(r, "token"), shell.Staff(r).ID)
	if err != nil {
		return err
	}
	v := newSummaryView(o.Lang, r.URL.Path, s)
	if !v.Ready && !v.Failed {
		w.Header().Set("Refresh", "1")
	}
	return shell.Render(w, r, http.StatusOK, summaryPage(o.page(r, o.Lang.Say("annual.page.title")), v))
}

func newSummaryView(l *catalog.Lang, path string, s *summary) summaryView {
	now := s.look()
	v := summaryView{Path: path, Copy: l.SayOf("annual.copy", string(now.name)), What: l.SayOf("annual.what", string(now.name)),
		Done: now.done, Of: max(now.of, 1), Ready: now.ready, Failed: now.failed, Doing: l.Say("annual.doing"), File: now.saveAs}
	if now.file != "" {
		v.Doing = l.Say("annual.doing.file", "file", now.file)
	}
	if !now.ready {
		return v
	}
	v.Size = l.Say("annual.size", "n", max(1, len(now.body)/1000))
	if m := now.match; m != nil {
		v.Match = []fact{
			{l.Say("annual.match.counted"), l.Number(m.Counted)}, {l.Say("annual.match.billed"), l.Number(m.Billed)},
			{l.Say("annual.match.due"), m.Due.String()}, {l.Say("annual.match.asked"), m.Asked.String()}}
		v.Verdict, v.Agrees = matchSays(l, *m), m.Agrees
	}
	return v
}

// matchSays is what came of a match, in a sentence.
func matchSays(l *catalog.Lang, m tally.Match) string {
	var out []string
	if m.Agrees {
		return l.Say("annual.match.agrees")
	}
	switch {
	case m.BagsOver > 0:
		out = append(out, l.Count("annual.match.more", m.BagsOver))
	case m.BagsOver < 0:
		out = append(out, l.Count("annual.match.fewer", -m.BagsOver))
	}
	switch {
	case m.Over > 0:
		out = append(out, l.Say("annual.match.over", "amount", m.Over.String()))
	case m.Over < 0:
		out = append(out, l.Say("annual.match.under", "amount", (-m.Over).String()))
	}
	for _, i := range m.Wrong {
		out = append(out, l.Say("annual.match.wrong", "label", i.Label, "amount", i.Amount.String()))
	}
	return strings.Join(out, " ")
}

// annualFile sends a copy that is made.
func (o *office) annualFile(w http.ResponseWriter, r *http.Request) error {
	s, err := o.summaries.find(chi.URLParam(r, "token"), shell.Staff(r).ID)
	if err != nil {
		return err
	}
	now := s.look()
	if !now.ready {
		return fault.ErrConflict
	}
	return sendFile(w, r, "application/zip", now.saveAs, now.body)
}
