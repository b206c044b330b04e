package office

import (
	"errors"
	"net/http"
	"strconv"

	"sixmile/internal/audit"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// releasePost releases the edition whose preview was shown. Number and stamp in
// the form make it safe to press twice: a number that is released already is
// shown as it was released, and an edition that would differ from the preview
// is not released but shown.
func (o *office) releasePost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	f := releaseForm{Cutoff: field{Name: "cutoff", Value: line(form, "cutoff")}, Confirm: field{Name: "confirm"}, Pressed: true}
	cutoff, ok := o.readCutoff(&f.Cutoff)
	if !form.Has("confirm") {
		f.Confirm.Problem = o.Lang.Say("release.problem.confirm")
		ok = false
	}
	if !ok {
		return o.showPreview(w, r, http.StatusUnprocessableEntity, f)
	}
	number, err := strconv.Atoi(form.Get("number"))
	if err != nil || number < 1 {
		return fault.ErrNotFound // the page's own hidden field was changed
	}
	e, err := o.Releases.Release(r.Context(), number, cutoff, o.Today(), line(form, "stamp"), shell.Staff(r).ID)
	switch {
	case errors.Is(err, fault.ErrConflict):
		f.Changed = o.Lang.Say("release.changed")
		return o.showPreview(w, r, http.StatusConflict, f)
	case errors.Is(err, edition.ErrTooSoon), errors.Is(err, audit.ErrFound):
		return o.showPreview(w, r, http.StatusConflict, f)
	case err != nil:
		return err
	}
	o.Log.Info("edition released", "number", e.Number, "code", e.Code)
	p := o.page(r, o.Lang.Say("release.done.title", "number", strconv.Itoa(e.Number)))
	return shell.Render(w, r, http.StatusOK, releasedPage(p, e))
}
