package office

import (
	"bytes"
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/press"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// signoffPost signs what is ticked as one batch. Where one of the results was
// counted anew meanwhile nothing is signed, and the page comes back with what
// stands now.
func (o *office) signoffPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	ticked := map[string]bool{}
	var ids []desk.ID
	for _, s := range form["result"] {
		id, ok := parseID(s)
		if !ok || id == (desk.ID{}) {
			return fault.ErrNotFound
		}
		ids, ticked[s] = append(ids, id), true
	}
	if len(ids) == 0 {
		return o.showSignoff(w, r, http.StatusUnprocessableEntity, signoffView{Problem: o.Lang.Say("signoff.nothing")}, ticked, "")
	}
	batch, n, err := o.SignOff.Sign(r.Context(), ids, shell.Staff(r).ID, o.Today())
	if errors.Is(err, fault.ErrConflict) {
		return o.showSignoff(w, r, http.StatusConflict, signoffView{Problem: o.Lang.Say("signoff.conflict")}, ticked, "")
	}
	if err != nil {
		return err
	}
	if n > 0 {
		o.Log.Info("results signed", "n", n)
	}
	http.Redirect(w, r, "/office/sign-off?"+url.Values{"signed": {idText(batch)}}.Encode(), http.StatusSeeOther)
	return nil
}

// signoffSlips prints a batch's answers, three to a sheet, for the counter.
func (o *office) signoffSlips(w http.ResponseWriter, r *http.Request) error {
	id, ok := parseID(chi.URLParam(r, "id"))
	if !ok || id == (desk.ID{}) {
		return fault.ErrNotFound
	}
	signed, err := o.Batches.Slips(r.Context(), id)
	if err != nil {
		return err
	}
	if len(signed) == 0 {
		return fault.ErrNotFound // all of it was corrected since
	}
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	scheme, err := o.Recipes.Scheme(r.Context())
	if err != nil {
		return err
	}
	g, lang := newGazetteer(places), o.paperLang(r)
	var slips []press.AnswerSlip
	for _, s := range signed {
		slip := newSlip(lang, s.Code, answerOf(s), scheme, g.name(o.Lang, s.County))
		if s.Changed {
			slip.Lines = append(slip.Lines, lang.Say("signoff.slip.changed"))
		}
		if s.Follow != "" {
			slip.Lines = append(slip.Lines, lang.Say("signoff.slip.follow", "code", s.Follow.String()))
		}
		slips = append(slips, slip)
	}
	sheets, err := press.AnswerSlips(slips, o.slipWords(lang))
	if err != nil {
		return err
	}
	var pdf bytes.Buffer
	err = press.PDF(&pdf, sheets, press.PDFOptions{Title: lang.Say("counter.slip.title"), Lang: lang.Tag(), Date: o.Today()})
	if err != nil {
		return err
	}
	return showPDF(w, r, "answers.pdf", pdf.Bytes())
}

// slipWords are the sentences every slip carries.
func (o *office) slipWords(l *catalog.Lang) press.SlipWords {
	return press.SlipWords{
		Title: l.Say("counter.slip.title"), Head: o.About.Name, Bag: l.Say("counter.slip.bag"),
		Cautions: []string{
			l.Say("answer.caution.bag") + " " + l.Say("answer.caution.none"),
			l.Say("answer.caution.advice") + " " + l.Say("answer.caution.label"),
		},
	}
}

// answerOf is a signed result as the counter's slips take it.
func answerOf(s desk.Signed) sample.Answer {
	r := sample.Result{
		Kind: "counted", Eggs: s.Reading.Eggs, Density: float64(s.Reading.Density), Low: s.Reading.Limits.Low, High: s.Reading.Limits.High,
		Limits: s.Reading.LimitsKnown, Cyst: s.Reading.CystSeen, Juveniles: s.Reading.JuvenilesSeen,
	}
	if s.Reading.Basis == assay.Reported {
		r.Kind = "density"
	}
	return sample.Answer{Season: s.Season, County: s.County, Received: true, Result: &r, Changed: s.Changed}
}

// signoffFollow issues the free follow-up bags of a batch's unconfirmed results.
// Their sheets are printed with the other lots.
func (o *office) signoffFollow(w http.ResponseWriter, r *http.Request) error {
	id, ok := parseID(chi.URLParam(r, "id"))
	if !ok || id == (desk.ID{}) {
		return fault.ErrNotFound
	}
	s, err := o.season(r)
	if err != nil {
		return err
	}
	_, n, err := o.Batches.FollowUp(r.Context(), id, s.Year, o.Today())
	if err != nil {
		return err
	}
	if n > 0 {
		o.Log.Info("follow-up bags issued", "n", n)
	}
	http.Redirect(w, r, "/office/sign-off?"+url.Values{"followed": {strconv.Itoa(n)}}.Encode(), http.StatusSeeOther)
	return nil
}
