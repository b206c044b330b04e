package office

import (
	"cmp"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/tabular"
	"sixmile/web/shell"
)

// uploadView is the page that sends a file.
type uploadView struct {
	File    field
	Day     field
	Methods []choice
	Refused []refusal
	Found   *found // a file that was left
}

// draftView is the page of a file that was sent.
type draftView struct {
	Path, Name, About string
	Stage             stage
	Doing             string
	Done, Rows        int
	Columns           []columnView
	Decimals          []choice
	Failed            string
	Took              string
	Verdict           []fact
	Kinds             []ledgerPart
	Bad               []badView
	More              string
	Ready             bool
	Whys              []choice
	AskWhy            bool
	Taken             string
	Refused           []refusal
	VerdictsPath      string
}

// columnView is a column of the file: its header, its first cells, and what it holds.
type columnView struct {
	Name    string
	Header  string
	First   string // its first cells
	Choices []choice
	Problem string
}

type badView struct{ Line, Code, Why string }

func (o *office) uploadForm(w http.ResponseWriter, r *http.Request) error {
	return o.showUpload(w, r, http.StatusOK, "", field{Name: "day", Value: o.Today().Format("2006-01-02")}, "")
}

func (o *office) showUpload(w http.ResponseWriter, r *http.Request, status int, problem string, day field, method string) error {
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	v := uploadView{File: field{Name: "file", Problem: problem}, Day: day}
	for _, m := range l.methods {
		v.Methods = append(v.Methods, choice{methodKey(m), methodName(o.Lang, m), methodKey(m) == method})
	}
	v.Refused, v.Found = refusals(v.File, v.Day), o.foundCounts(r)
	return shell.Render(w, r, status, uploadPage(o.page(r, o.Lang.Say("upload.title")), v))
}

func (o *office) draftOf(r *http.Request) (*draft, error) {
	return o.drafts.find(chi.URLParam(r, "token"), shell.Staff(r).ID)
}

// draftShow is the page of a file that was sent; while it is worked on the
// browser asks again every second, without a script.
func (o *office) draftShow(w http.ResponseWriter, r *http.Request) error {
	d, err := o.draftOf(r)
	if errors.Is(err, fault.ErrNotFound) {
		return o.showUpload(w, r, http.StatusNotFound, o.Lang.Say("upload.gone"), field{Name: "day", Value: o.Today().Format("2006-01-02")}, "")
	}
	if err != nil {
		return err
	}
	return o.showDraft(w, r, http.StatusOK, d, nil)
}

func (o *office) showDraft(w http.ResponseWriter, r *http.Request, status int, d *draft, bad map[string]tabular.Problem) error {
	v := newDraftView(o.Lang, "/office/upload/"+chi.URLParam(r, "token"), d, bad)
	if v.Doing != "" {
		w.Header().Set("Refresh", "1")
	}
	p := o.page(r, o.Lang.Say("upload.title"))
	p.Wide = true
	return shell.Render(w, r, status, draftPage(p, v))
}

func newDraftView(l *catalog.Lang, path string, d *draft, bad map[string]tabular.Problem) draftView {
	now := d.look()
	v := draftView{Path: path, VerdictsPath: path + "/verdicts.csv", Name: now.Name, Stage: now.Stage, Done: now.Done}
	if sheet := now.sheet; sheet != nil {
		v.Rows = sheet.Rows
		v.About = aboutSheet(l, sheet)
		v.Columns = columnViews(l, sheet, now.mapping, bad)
		v.Decimals = decimals(l, now.mapping.Decimal)
	}
	for _, c := range v.Columns {
		if c.Problem != "" {
			v.Refused = append(v.Refused, refusal{c.Name, c.Problem})
		}
	}
	if p, there := bad["columns"]; there {
		v.Refused = append(v.Refused, refusal{"columns", l.SayOf("upload.mapping", string(p))})
	}
	if !now.Open() {
		v.Refused = astray(v.Refused)
	}
	switch now.Stage {
	case stageReading, stageStoring:
		v.Doing = l.SayOf("upload.doing", string(now.Stage))
	case stageFailed:
		v.Failed = failure(l, now.Failed)
	case stageTaken:
		v.Took = l.Count("upload.took", now.Took)
	case stageRead:
		if now.mapping.Check() == nil { // else there is no verdict yet
			v.judge(l, now.Verdict, now.why)
		}
	}
	return v
}

// judge puts a verdict into words.
func (v *draftView) judge(l *catalog.Lang, in verdict, why assay.Correction) {
	for _, f := range []struct {
		key string
		n   int
	}{{"rows", in.Rows}, {"new", in.New}, {"same", in.Same}, {"replaces", in.Replaces}, {"bad", in.Bad}} {
		if f.n > 0 || f.key == "rows" || f.key == "bad" {
			v.Verdict = append(v.Verdict, fact{l.SayOf("upload.verdict", f.key), l.Number(f.n)})
		}
	}
	for p, n := range in.Kinds {
		v.Kinds = append(v.Kinds, ledgerPart{l.SayOf("upload.problem", string(p)), n})
		v.AskWhy = v.AskWhy || p == bagReplaces
	}
	mostFirst(v.Kinds)
	for _, b := range in.First {
		var words []string
		for _, p := range b.Problems {
			words = append(words, l.Say("upload.at", "field", fieldName(l, p.Field), "problem", l.SayOf("upload.problem", string(p.Problem))))
		}
		v.Bad = append(v.Bad, badView{strconv.Itoa(b.Line), b.Code, strings.Join(words, " ")})
	}
	if in.Bad > len(in.First) {
		v.More = l.Count("upload.more", in.Bad-len(in.First))
	}
	v.Ready, v.Whys = in.ready(), corrections(l, string(why))
	v.AskWhy = v.AskWhy || in.Replaces > 0
	if !in.Taken.IsZero() {
		v.Taken = l.Say("upload.taken", "day", l.Date(in.Taken))
	}
}

// aboutSheet says what a file was taken for.
func aboutSheet(l *catalog.Lang, s *tabular.Sheet) string {
	if s.Format == tabular.Workbook {
		return l.Count("upload.about.workbook", s.Rows, "sheet", s.Name)
	}
	return l.Count("upload.about.text", s.Rows, "encoding", strings.ToUpper(s.Encoding), "sign", delimiterName(l, s.Delimiter))
}

func delimiterName(l *catalog.Lang, r rune) string {
	names := map[rune]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "bar"}
	return l.SayOf("upload.delimiter", names[r])
}

// fieldName is a field in words; portions are numbered.
func fieldName(l *catalog.Lang, f tabular.Field) string {
	for i := 1; i <= assay.MaxAliquots; i++ {
		switch f {
		case tabular.EggsOf(i):
			return l.Say("upload.field.eggs", "n", i)
		case tabular.MLOf(i):
			return l.Say("upload.field.ml_of", "n", i)
		}
	}
	return l.SayOf("upload.field", string(f))
}

// mostFirst sorts kinds of problems.
func mostFirst(kinds []ledgerPart) {
	slices.SortFunc(kinds, func(a, b ledgerPart) int { return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Name, b.Name)) })
}

// decimals are the signs that a file's numbers can be written with.
func decimals(l *catalog.Lang, chosen tabular.Decimal) (out []choice) {
	for _, d := range []tabular.Decimal{tabular.AutoDecimal, tabular.DecimalPoint, tabular.DecimalComma} {
		n := strconv.Itoa(int(d))
		out = append(out, choice{n, l.SayOf("upload.decimal", n), d == chosen})
	}
	return out
}

// newColumnView is a column with its first cells, and the choice of none; the
// choices of what it may hold are added by the caller.
func newColumnView(l *catalog.Lang, s *tabular.Sheet, i int, c tabular.Column) columnView {
	v := columnView{Name: "column-" + strconv.Itoa(i), Header: l.Say("upload.column", "n", i+1)}
	if i < len(s.Headers) && s.Headers[i] != "" {
		v.Header = shorten(s.Headers[i])
	}
	var cells []string
	for _, row := range s.First {
		cell := ""
		if i < len(row) {
			cell = shorten(row[i])
		}
		cells = append(cells, cell)
	}
	v.First = strings.Join(cells, " · ")
	v.Choices = []choice{{"", l.Say("upload.field.none"), c.Field == ""}}
	return v
}

func columnViews(l *catalog.Lang, s *tabular.Sheet, m tabular.Mapping, bad map[string]tabular.Problem) []columnView {
	var out []columnView
	for i, c := range m.Columns {
		v := newColumnView(l, s, i, c)
		for _, f := range tabular.Fields() {
			if f != tabular.Density {
				v.Choices = append(v.Choices, choice{string(f), fieldName(l, f), c.Field == f})
				continue
			}
			v.Choices = append(v.Choices, choice{string(f), fieldName(l, f), c.Field == f && c.Unit == 0})
			for _, u := range assay.Units() {
				with := tabular.Column{Field: f, Unit: u}
				v.Choices = append(v.Choices, choice{columnKey(with), l.Say("upload.field.density_in", "unit", l.SayOf("unit", u.String())), c == with})
			}
		}
		if p, there := bad["columns."+strconv.Itoa(i)]; there {
			v.Problem = l.SayOf("upload.mapping", string(p))
		}
		out = append(out, v)
	}
	return out
}

// failure says why a file could not be read or stored.
func failure(l *catalog.Lang, err error) string {
	var file *tabular.FileError
	switch {
	case errors.As(err, &file):
		return fileProblem(l, file)
	case errors.Is(err, fault.ErrConflict):
		return l.Say("upload.conflict")
	}
	return l.Say("upload.broken")
}

func fileProblem(l *catalog.Lang, e *tabular.FileError) string {
	text := l.SayOf("upload.file", string(e.Problem))
	if e.Line > 0 {
		return l.Say("upload.line", "line", strconv.Itoa(e.Line)) + " " + text
	}
	return text
}
