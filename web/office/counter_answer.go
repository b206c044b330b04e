package office

import (
	"bytes"
	"context"
	"errors"
	"math"
	"net/http"
	"strconv"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
	"sixmile/internal/sample"
	"sixmile/internal/stat"
	"sixmile/web/shell"
)

// Answers gives what may be printed for a stub, and notes that it was asked for.
type Answers interface {
	// Answer: fault.ErrNotFound when there is no form for the code within reach.
	Answer(ctx context.Context, code bag.Code, within account.Reach, today time.Time) (sample.Answer, error)
}

// answerView is the page that prints answers.
type answerView struct {
	Counties string
	Code     field
	Present  field
	Wrong    string
	Refused  []refusal
}

func newAnswerView(code string) answerView {
	return answerView{Code: field{Name: "code", Value: code}, Present: field{Name: "present"}}
}

func (o *office) answerForm(w http.ResponseWriter, r *http.Request) error {
	return o.showAnswer(w, r, http.StatusOK, newAnswerView(""))
}

func (o *office) showAnswer(w http.ResponseWriter, r *http.Request, status int, v answerView) error {
	if within := shell.Staff(r).Reach(account.PrintAnswer); !within.All {
		places, err := o.Program.Places(r.Context())
		if err != nil {
			return err
		}
		v.Counties = joinNames(o.Lang, newGazetteer(places), within.Counties)
	}
	v.Refused = refusals(v.Code, v.Present)
	return shell.Render(w, r, status, answerPage(o.page(r, o.Lang.Say("counter.answer.title")), v))
}

// answerPost prints the slip of one bag, for the grower who stands there with
// its stub. Whoever prints says so by a tick; that, and not the code, goes into
// the trail.
func (o *office) answerPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	v := newAnswerView(line(form, "code"))
	code, err := bag.Parse(scanned(v.Code.Value))
	if err != nil {
		v.Code.Problem = codeProblem(o.Lang, err)
	}
	if !form.Has("present") {
		v.Present.Problem = o.Lang.Say("counter.answer.present.needed")
	}
	if len(refusals(v.Code, v.Present)) > 0 {
		return o.showAnswer(w, r, http.StatusUnprocessableEntity, v)
	}
	a, err := o.Answers.Answer(r.Context(), code, shell.Staff(r).Reach(account.PrintAnswer), o.Today())
	switch {
	case errors.Is(err, fault.ErrNotFound):
		v.Wrong = o.Lang.Say("counter.answer.none")
	case err != nil:
		return err
	case a.Held:
		v.Wrong = o.Lang.Say("counter.answer.held")
	case a.Result == nil && a.Received:
		v.Wrong = o.Lang.Say("counter.answer.counting")
	case a.Result == nil:
		v.Wrong = o.Lang.Say("counter.answer.waiting")
	default:
		return o.printAnswer(w, r, code, a)
	}
	v.Code.Value = "" // the next stub is another
	return o.showAnswer(w, r, http.StatusUnprocessableEntity, v)
}

func (o *office) printAnswer(w http.ResponseWriter, r *http.Request, code bag.Code, a sample.Answer) error {
	scheme, err := o.Recipes.Scheme(r.Context())
	if err != nil {
		return err
	}
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	lang := o.paperLang(r)
	slip := newSlip(lang, code, a, scheme, newGazetteer(places).name(o.Lang, a.County))
	sheets, err := press.AnswerSlips([]press.AnswerSlip{slip}, o.slipWords(lang))
	if err != nil {
		return err
	}
	var pdf bytes.Buffer
	if err := press.PDF(&pdf, sheets, press.PDFOptions{Title: lang.Say("counter.slip.title"), Lang: lang.Tag(), Date: o.Today()}); err != nil {
		return err
	}
	// The name of the file says nothing: it may stay in a list of downloads.
	return showPDF(w, r, "answer.pdf", pdf.Bytes())
}

// newSlip puts an answer into the words of a slip. No township stands on it:
// only its owner knows which field it was.
func newSlip(l *catalog.Lang, code bag.Code, a sample.Answer, s assay.Scheme, county string) press.AnswerSlip {
	r := a.Result
	reading := assay.Reading{
		Density: assay.Density(r.Density), CystSeen: r.Cyst, JuvenilesSeen: r.Juveniles,
		Limits: stat.Interval{Low: r.Low, High: r.High}, LimitsKnown: r.Limits,
	}
	switch r.Kind {
	case "counted":
		reading.Basis, reading.Eggs = assay.Counted, r.Eggs
	case "density":
		reading.Basis = assay.Reported
	}
	class := s.Class(reading)
	slip := press.AnswerSlip{
		Code: code.String(), Place: l.Say("counter.slip.place", "county", county, "year", strconv.Itoa(a.Season)),
		Mark: gazette.MarkOf(s, class), Level: l.Say("counter.slip.level", "level", l.SayOf("level", class.Name)),
	}
	switch {
	case r.Eggs > 0 || r.Density > 0:
		slip.Lines = append(slip.Lines, l.Count("answer.eggs", whole(r.Density), "density", whole(r.Density))+".")
		if r.Limits {
			slip.Lines = append(slip.Lines, l.Say("answer.limits", "low", whole(r.Low), "high", whole(r.High)))
		}
	case r.Cyst:
		slip.Lines = append(slip.Lines, l.Say("answer.eggs.cyst")+".")
	case r.Juveniles:
		slip.Lines = append(slip.Lines, l.Say("answer.eggs.juveniles")+".")
	default:
		slip.Lines = append(slip.Lines, l.Say("answer.eggs.none")+".")
	}
	slip.Lines = append(slip.Lines, l.SayOf("answer.next", afterwards(s, class)))
	return slip
}

// afterwards is what to do about a class first: when to send in a bag again.
func afterwards(s assay.Scheme, c assay.Class) string {
	found := s.Found()
	switch {
	case c.Kind == assay.None:
		return "again.none"
	case c.Kind == assay.Unconfirmed:
		return "confirm"
	case len(found) > 1 && c.Rank == found[0].Rank:
		return "again.low"
	case len(found) > 1 && c.Rank == found[len(found)-1].Rank:
		return "again.high"
	}
	return "again.middle"
}

func whole(x float64) int { return int(math.Round(x)) }
