package office

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/past"
	"sixmile/internal/tabular"
	"sixmile/web/shell"
)

// historyRoutes are the pages of the years before the program.
func (o *office) historyRoutes() []shell.Route {
	const get, post = http.MethodGet, http.MethodPost
	return []shell.Route{
		{Method: get, Path: "/office/history", May: account.LoadPast, Handler: o.historyForm},
		{Method: post, Path: "/office/history", May: account.LoadPast, Handler: o.historyPost, MaxBody: maxUpload},
		{Method: get, Path: "/office/history/template.csv", May: account.LoadPast, Handler: o.historyTemplate},
		{Method: get, Path: "/office/history/columns.csv", May: account.LoadPast, Handler: o.historyDictionary},
		{Method: get, Path: "/office/history/{token}", May: account.LoadPast, Handler: o.historyFile},
		{Method: post, Path: "/office/history/{token}", May: account.LoadPast, Handler: o.historyFilePost},
	}
}

// pastFormView is the page that sends a file.
type pastFormView struct {
	File, SRID field
	Units      []choice
	Refused    []refusal
	Found      *found // a file that was left
}

func (o *office) historyForm(w http.ResponseWriter, r *http.Request) error {
	return o.showHistory(w, r, http.StatusOK, pastTyped{file: field{Name: "file"}, srid: field{Name: "srid"}, unit: field{Name: "unit"}})
}

func (o *office) showHistory(w http.ResponseWriter, r *http.Request, status int, typed pastTyped) error {
	v := pastFormView{File: typed.file, SRID: typed.srid, Refused: refusals(typed.file, typed.srid), Found: o.foundPast(r)}
	v.Units = []choice{{"", o.Lang.Say("past.unit.none"), typed.unit.Value == ""}}
	for _, u := range assay.Units() {
		if !u.ByMass() { // those need a bulk density with every row
			v.Units = append(v.Units, choice{u.String(), o.Lang.SayOf("unit", u.String()), typed.unit.Value == u.String()})
		}
	}
	return shell.Render(w, r, status, pastFormPage(o.page(r, o.Lang.Say("past.title")), v))
}

// pastFileView is the page of a file that was sent.
type pastFileView struct {
	Path, Name, About, Doing, Failed, Took, Taken, More string
	Stage                                               stage
	Done, Rows                                          int
	Verdict                                             []fact
	Kinds                                               []ledgerPart
	Bad                                                 []badView
	Ready                                               bool
	Columns                                             []columnView
	Decimals                                            []choice
	Refused                                             []refusal
}

// historyFile is the page of a file; while it is worked on the browser asks again
// every second, without a script.
func (o *office) historyFile(w http.ResponseWriter, r *http.Request) error {
	f, err := o.pastFileOf(r)
	if errors.Is(err, fault.ErrNotFound) {
		gone := field{Name: "file", Problem: o.Lang.Say("past.gone")}
		return o.showHistory(w, r, http.StatusNotFound, pastTyped{file: gone, srid: field{Name: "srid"}, unit: field{Name: "unit"}})
	}
	if err != nil {
		return err
	}
	return o.showPastFile(w, r, http.StatusOK, f, nil)
}

func (o *office) showPastFile(w http.ResponseWriter, r *http.Request, status int, f *pastFile, bad map[string]tabular.Problem) error {
	v := newPastFileView(o.Lang, "/office/history/"+chi.URLParam(r, "token"), f.look(), bad)
	if v.Doing != "" {
		w.Header().Set("Refresh", "1")
	}
	p := o.page(r, o.Lang.Say("past.title"))
	p.Wide = true
	return shell.Render(w, r, status, pastFilePage(p, v))
}

func newPastFileView(l *catalog.Lang, path string, now pastState, bad map[string]tabular.Problem) pastFileView {
	v := pastFileView{Path: path, Name: now.Name, Stage: now.Stage, Done: now.Done, Rows: now.Rows}
	if sheet := now.sheet; sheet != nil {
		v.About = aboutSheet(l, sheet)
		v.Columns = pastColumns(l, sheet, now.mapping, bad)
		v.Decimals = decimals(l, now.mapping.Decimal)
	}
	for _, part := range []string{"season", "place", "figure"} {
		if bad == nil && now.Stage == stageRead && now.sheet != nil { // the guess may lack one
			var invalid *assay.Invalid
			if errors.As(past.Check(now.mapping), &invalid) {
				bad = invalid.Fields
			}
		}
		if _, there := bad[part]; there {
			v.Refused = append(v.Refused, refusal{"columns", l.SayOf("past.mapping", part)})
		}
	}
	for _, c := range v.Columns {
		if c.Problem != "" {
			v.Refused = append(v.Refused, refusal{c.Name, c.Problem})
		}
	}
	if len(v.Columns) == 0 || !now.Open() {
		v.Refused = astray(v.Refused)
	}
	switch now.Stage {
	case stageReading, stageStoring:
		v.Doing = l.SayOf("past.doing", string(now.Stage))
	case stageFailed:
		if v.Failed = failure(l, now.Failed); errors.Is(now.Failed, fault.ErrConflict) {
			v.Failed = l.Say("past.conflict")
		}
	case stageTaken:
		v.Took = l.Say("past.took.none")
		if now.Took > 0 {
			v.Took = l.Count("past.took", now.Took) + " " + l.Say("past.took.next")
		}
	case stageRead:
		v.judge(l, now)
	}
	return v
}

// judge puts a verdict into words. What the file's cells say is not repeated.
func (v *pastFileView) judge(l *catalog.Lang, now pastState) {
	in := now.Verdict
	if in.Rows == 0 {
		return // there is none yet
	}
	for _, f := range past.Facts(in) {
		v.Verdict = append(v.Verdict, fact{l.SayOf("past.verdict", f.Key), f.Say(l)})
	}
	for p, n := range in.Kinds {
		v.Kinds = append(v.Kinds, ledgerPart{l.SayOf("past.problem", string(p)), n})
	}
	mostFirst(v.Kinds)
	for _, b := range in.Bad {
		var words []string
		for _, f := range past.Fields() {
			if p, there := b.Problems[f]; there {
				words = append(words, l.Say("upload.at", "field", l.SayOf("past.field", string(f)), "problem", l.SayOf("past.problem", string(p))))
			}
		}
		v.Bad = append(v.Bad, badView{Line: strconv.Itoa(b.Line), Why: strings.Join(words, " ")})
	}
	if more := in.BadRows - len(in.Bad); more > 0 {
		v.More = l.Count("past.more", more)
	}
	v.Ready = now.readyToTake()
	if !now.Taken.IsZero() {
		v.Taken = l.Say("past.taken", "day", l.Date(now.Taken))
	}
}

func pastColumns(l *catalog.Lang, s *tabular.Sheet, m tabular.Mapping, bad map[string]tabular.Problem) []columnView {
	var out []columnView
	for i, c := range m.Columns {
		v := newColumnView(l, s, i, c)
		for _, f := range past.Fields() {
			v.Choices = append(v.Choices, choice{string(f), l.SayOf("past.field", string(f)), c == tabular.Column{Field: f}})
			for _, u := range assay.Units() {
				if with := (tabular.Column{Field: f, Unit: u}); f == tabular.Density {
					v.Choices = append(v.Choices, choice{columnKey(with), l.Say("past.field.density_in", "unit", l.SayOf("unit", u.String())), c == with})
				}
			}
		}
		if p, there := bad["columns."+strconv.Itoa(i)]; there {
			v.Problem = l.SayOf("past.mapping", string(p))
		}
		out = append(out, v)
	}
	return out
}
