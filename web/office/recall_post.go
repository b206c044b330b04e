package office

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"

	"sixmile/internal/audit"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// recallPost takes a group back, or releases an erratum.
func (o *office) recallPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	if form.Get("do") == "erratum" {
		return o.erratumPost(w, r, form)
	}
	v := recallView{Group: field{Value: line(form, "group")}, Reason: field{Value: line(form, "reason")}}
	of, err := readGroup(v.Group.Value)
	if err != nil {
		v.Group.Problem = o.Lang.Say("recall.problem.group")
	}
	why, ok := readReason(o.Lang, &v.Reason)
	if !form.Has("confirm") {
		v.Confirm.Problem = o.Lang.Say("recall.problem.confirm")
	}
	if !ok || v.Group.Problem != "" || v.Confirm.Problem != "" {
		return o.showRecall(w, r, http.StatusUnprocessableEntity, form.Get("county"), v)
	}
	err = o.Recalls.Recall(r.Context(), of, why, o.Today(), shell.Staff(r).ID)
	switch {
	case errors.Is(err, fault.ErrNotFound), errors.Is(err, fault.ErrConflict):
		v.Group = field{Problem: o.Lang.Say("recall.problem.gone")}
		return o.showRecall(w, r, http.StatusConflict, form.Get("county"), v)
	case err != nil:
		return err
	}
	o.Log.Info("group taken back", "edition", of.Edition)
	return o.showRecall(w, r, http.StatusOK, form.Get("county"), recallView{Done: o.Lang.Say("recall.done")})
}

// erratumPost releases the erratum that was shown.
func (o *office) erratumPost(w http.ResponseWriter, r *http.Request, form url.Values) error {
	number, err := strconv.Atoi(form.Get("number"))
	if err != nil || number < 1 {
		return fault.ErrNotFound // the page's own hidden field was changed
	}
	if !form.Has("sure") {
		v := recallView{Erratum: erratumView{Confirm: field{Problem: o.Lang.Say("recall.problem.sure")}}}
		return o.showRecall(w, r, http.StatusUnprocessableEntity, "", v)
	}
	e, err := o.Errata.Amend(r.Context(), number, o.Today(), line(form, "stamp"), shell.Staff(r).ID)
	switch {
	case errors.Is(err, fault.ErrConflict), errors.Is(err, audit.ErrFound):
		return o.showRecall(w, r, http.StatusConflict, "", recallView{Changed: o.Lang.Say("recall.changed")})
	case err != nil:
		return err
	}
	o.Log.Info("erratum released", "number", e.Number, "code", e.Code)
	return o.showRecall(w, r, http.StatusOK, "", recallView{Done: o.Lang.Say("recall.erratum.done", "number", e.Number, "code", e.Code)})
}
