package office

import (
	"context"
	"errors"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/virulence"
	"sixmile/web/shell"
)

// Indicators keeps tests on indicator lines.
type Indicators interface {
	// Find: fault.ErrNotFound for no such bag, or one of no known place.
	Find(ctx context.Context, code bag.Code) (desk.Indicator, error)
	List(ctx context.Context, season int) ([]desk.Indicator, error)
	// Closed gives the falls that closed before today, each with its tests as they
	// stood then.
	Closed(ctx context.Context, today time.Time) ([]desk.IndicatorFall, error)
	// Record: fault.ErrConflict when another test stands than the one replaced.
	Record(ctx context.Context, code bag.Code, t virulence.Test, replaces desk.ID, by account.ID, today time.Time) error
}

// indicatorView is the page of tests on indicator lines.
type indicatorView struct {
	Code     field
	Check    field
	Lines    []lineField
	Replaces string
	Refused  []refusal
	Saved    string
	Result   *indicatorResult
	List     []indicatorRow
	Heads    []shell.ColumnHead // of the list
	Season   string
	Told     []toldFall
}

type lineField struct {
	field
	Label string
}

// indicatorResult is what a test comes to.
type indicatorResult struct {
	Code, Type, Untested string
	Lines                []indexRow
	Doubts               []string
}

type indexRow struct {
	Line, Mark, Pots, Mean, Index, Limits, Rating string
}

type indicatorRow struct {
	Code, Raw, Day, Type string
}

// lineLabel is a line's number, name and accession; most go by their accession.
func lineLabel(l *catalog.Lang, line virulence.Line) string {
	if line.Name() == line.Accession() {
		return l.Say("indicator.line.plain", "n", int(line), "accession", line.Accession())
	}
	return l.Say("indicator.line", "n", int(line), "name", line.Name(), "accession", line.Accession())
}

func lineName(l virulence.Line) string { return "line-" + strconv.Itoa(int(l)) }

// indicatorTyped is a test as it was keyed: females in each pot, parted by spaces.
type indicatorTyped struct {
	code, check, replaces string
	lines                 [virulence.NumLines]string
}

func (o *office) indicatorShow(w http.ResponseWriter, r *http.Request) error {
	typed := indicatorTyped{code: line(r.URL.Query(), "code")}
	if typed.code == "" {
		return o.showIndicator(w, r, http.StatusOK, typed, nil, "")
	}
	code, err := bag.Parse(scanned(typed.code))
	if err != nil {
		return o.showIndicator(w, r, http.StatusUnprocessableEntity, typed, map[string]string{"code": codeProblem(o.Lang, err)}, "")
	}
	test, err := o.Indicators.Find(r.Context(), code)
	if errors.Is(err, fault.ErrNotFound) {
		return o.showIndicator(w, r, http.StatusNotFound, typed, map[string]string{"code": o.Lang.Say("indicator.unknown", "code", code.String())}, "")
	}
	if err != nil {
		return err
	}
	typed.replaces = idText(test.ID)
	typed.check = writePots(test.Test.Check)
	for i, pots := range test.Test.Pots {
		typed.lines[i] = writePots(pots)
	}
	return o.showIndicator(w, r, http.StatusOK, typed, nil, "")
}

func (o *office) showIndicator(w http.ResponseWriter, r *http.Request, status int, t indicatorTyped, bad map[string]string, saved string) error {
	s, err := o.season(r)
	if err != nil {
		return err
	}
	list, err := o.Indicators.List(r.Context(), s.Year)
	if err != nil {
		return err
	}
	v := indicatorView{
		Code: field{"code", t.code, bad["code"]}, Check: field{"check", t.check, bad["check"]}, Replaces: t.replaces, Saved: saved, Season: strconv.Itoa(s.Year),
	}
	fields := []field{v.Code, v.Check}
	for _, l := range virulence.Lines() {
		name := lineName(l)
		f := field{name, t.lines[l-1], bad[name]}
		v.Lines = append(v.Lines, lineField{f, lineLabel(o.Lang, l)})
		fields = append(fields, f)
	}
	labels := map[string]string{v.Check.Name: o.Lang.Say("indicator.check")}
	for _, l := range v.Lines {
		labels[l.Name] = l.Label
	}
	v.Refused = naming(refusals(fields...), labels)
	if p, there := bad["lines"]; there {
		v.Refused = append(v.Refused, refusal{lineName(virulence.Peking), p})
	}
	if test, _ := readTest(o.Lang, t); test.Valid() == nil && t.code != "" {
		result, err := test.Result()
		if err != nil {
			return err
		}
		v.Result = newIndicatorResult(o.Lang, t.code, result)
	}
	for _, i := range list {
		row := indicatorRow{Code: i.Code.String(), Raw: string(i.Code), Day: o.Lang.Date(i.Day)}
		if result, err := i.Test.Result(); err == nil {
			row.Type = result.Type.String()
		}
		v.List = append(v.List, row)
	}
	order := readSorting(r, "sort", "tests", "code")
	v.Heads = arrange(&order, v.List,
		byWords("code", o.Lang.Say("signoff.col.code"), func(r indicatorRow) string { return r.Code }),
		byWords("type", o.Lang.Say("indicator.col.type"), func(r indicatorRow) string { return r.Type }),
		inOrder[indicatorRow](o.Lang.Say("bag.col.day"), false, false))
	if v.Told, err = o.told(r.Context()); err != nil {
		return err
	}
	p := o.page(r, o.Lang.Say("indicator.title"))
	p.Wide, p.Scripts = true, []string{"count.js"}
	return shell.Render(w, r, status, indicatorPage(p, v))
}

// indicatorPost shows what a test comes to, or saves it.
func (o *office) indicatorPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	t := indicatorTyped{code: line(form, "code"), check: line(form, "check"), replaces: line(form, "replaces")}
	for _, l := range virulence.Lines() {
		t.lines[l-1] = line(form, lineName(l))
	}
	test, bad := readTest(o.Lang, t)
	code, err := bag.Parse(scanned(t.code))
	if err != nil {
		bad["code"] = codeProblem(o.Lang, err)
	}
	replaces, ok := parseID(t.replaces)
	if !ok {
		return fault.ErrNotFound
	}
	if len(bad) > 0 {
		return o.showIndicator(w, r, http.StatusUnprocessableEntity, t, bad, "")
	}
	if form.Get("do") == "show" {
		return o.showIndicator(w, r, http.StatusOK, t, nil, "")
	}
	err = o.Indicators.Record(r.Context(), code, test, replaces, shell.Staff(r).ID, o.Today())
	switch {
	case errors.Is(err, fault.ErrNotFound):
		bad["code"] = o.Lang.Say("indicator.unknown", "code", code.String())
		return o.showIndicator(w, r, http.StatusUnprocessableEntity, t, bad, "")
	case errors.Is(err, fault.ErrConflict):
		bad["code"] = o.Lang.Say("indicator.conflict", "code", code.String())
		return o.showIndicator(w, r, http.StatusConflict, t, bad, "")
	case err != nil:
		return err
	}
	result, err := test.Result()
	if err != nil {
		return err
	}
	return o.showIndicator(w, r, http.StatusOK, indicatorTyped{}, nil, o.Lang.Say("indicator.saved", "code", code.String(), "type", result.Type.String()))
}

// readTest reads the pots of every line, with what is wrong by field.
func readTest(l *catalog.Lang, t indicatorTyped) (virulence.Test, map[string]string) {
	bad := map[string]string{}
	read := func(name, typed string) []int {
		var out []int
		for _, word := range strings.FieldsFunc(typed, func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '\t' }) {
			n, err := assay.ParseEggs(word)
			if err != nil {
				bad[name] = l.Say("indicator.problem.pots")
			}
			out = append(out, n)
		}
		return out
	}
	test := virulence.Test{Check: read("check", t.check)}
	for _, line := range virulence.Lines() {
		test.Pots[line-1] = read(lineName(line), t.lines[line-1])
	}
	var invalid *assay.Invalid
	if !errors.As(test.Valid(), &invalid) {
		return test, bad
	}
	for name, p := range invalid.Fields {
		at, _, _ := strings.Cut(strings.Replace(name, "line.", "line-", 1), ".")
		if _, there := bad[at]; !there {
			bad[at] = l.SayOf("indicator.problem", string(p))
		}
	}
	return test, bad
}

func writePots(pots []int) string {
	words := make([]string, len(pots))
	for i, n := range pots {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, " ")
}

func newIndicatorResult(l *catalog.Lang, code string, r virulence.Result) *indicatorResult {
	v := &indicatorResult{Code: code, Type: r.Type.String()}
	if !r.Type.Complete() {
		var names []string
		for _, line := range r.Type.Untested {
			names = append(names, line.Accession())
		}
		v.Untested = l.Say("indicator.untested", "lines", strings.Join(names, ", "))
	}
	for _, i := range r.Indexes {
		row := indexRow{Line: lineLabel(l, i.Line), Mark: r.Type.Mark(i.Line)}
		if i.Tested {
			row.Pots, row.Mean, row.Index = strconv.Itoa(i.Pots), oneDecimal(i.Mean), indexText(i.Value)
			row.Rating, row.Limits = l.SayOf("indicator.rating", i.Rating.String()), l.Say("signoff.nolimits")
			if i.Known {
				row.Limits = l.Say("signoff.limits", "low", indexText(i.Limits.Low), "high", indexText(i.Limits.High))
			}
		}
		v.Lines = append(v.Lines, row)
	}
	for _, d := range r.Doubts {
		where := l.Say("indicator.check")
		if d.Line != 0 {
			where = d.Line.Accession()
		}
		v.Doubts = append(v.Doubts, l.Say("indicator.doubt", "line", where, "why", l.SayOf("indicator.doubt", string(d.Reason))))
	}
	return v
}

// indexText writes a female index with one decimal, and with more where one would
// carry it over an edge of the ratings: 9.96 is not named in a type, and 10 would be.
func indexText(v float64) string {
	for part := 10.0; part < 1e6; part *= 10 {
		if short := math.Round(part*v) / part; virulence.Rate(short) == virulence.Rate(v) {
			return strconv.FormatFloat(short, 'f', -1, 64)
		}
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func oneDecimal(v float64) string { return strconv.FormatFloat(math.Round(10*v)/10, 'f', -1, 64) }
