package office

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// Releases previews and releases editions.
type Releases interface {
	Preview(ctx context.Context, cutoff, day time.Time) (desk.Preview, error)
	// Release: fault.ErrConflict when the edition would differ from what the
	// stamp was given for; the existing edition when number is released already.
	Release(ctx context.Context, number int, cutoff, day time.Time, stamp string, by account.ID) (gazette.Edition, error)
}

// releaseShow previews the edition that a release today would make.
func (o *office) releaseShow(w http.ResponseWriter, r *http.Request) error {
	typed := r.URL.Query().Get("cutoff")
	if typed == "" {
		typed = o.Today().Format(time.DateOnly)
	}
	return o.showPreview(w, r, http.StatusOK, releaseForm{Cutoff: field{Name: "cutoff", Value: typed}})
}

// releaseForm is what stands around a preview.
type releaseForm struct {
	Cutoff  field
	Confirm field
	Changed string // why the preview is shown anew
	Pressed bool   // it was to be released
}

// readCutoff reads the cut-off's date: a day up to today.
func (o *office) readCutoff(f *field) (time.Time, bool) {
	day, err := time.Parse(time.DateOnly, f.Value)
	switch {
	case err != nil:
		f.Problem = o.Lang.Say("release.problem.cutoff")
	case day.After(o.Today()):
		f.Problem = o.Lang.Say("release.problem.future")
	}
	return day, f.Problem == ""
}

// begunBy tells whether any season had opened by a day.
func (o *office) begunBy(ctx context.Context, day time.Time) (bool, error) {
	seasons, err := o.Program.Seasons(ctx)
	return slices.ContainsFunc(seasons, func(s sample.Season) bool { return !s.Opens.After(day) }), err
}

// showPreview works out a preview and shows it; without a cut-off that can be
// read there is the form alone.
func (o *office) showPreview(w http.ResponseWriter, r *http.Request, status int, f releaseForm) error {
	p := o.page(r, o.Lang.Say("release.title"))
	p.Wide = true
	if f.Cutoff.Value = shorten(f.Cutoff.Value); f.Cutoff.Problem == "" {
		o.readCutoff(&f.Cutoff)
	}
	if f.Cutoff.Problem != "" {
		return shell.Render(w, r, http.StatusUnprocessableEntity, releasePage(p, releaseView{Form: f, Refused: refusals(f.Cutoff)}))
	}
	cutoff, _ := o.readCutoff(&f.Cutoff)
	if begun, err := o.begunBy(r.Context(), cutoff); err != nil {
		return err
	} else if !begun {
		f.Cutoff.Problem = o.Lang.Say("release.problem.before")
		return shell.Render(w, r, http.StatusUnprocessableEntity, releasePage(p, releaseView{Form: f, Refused: refusals(f.Cutoff, f.Confirm)}))
	}
	preview, err := o.Releases.Preview(r.Context(), cutoff, o.Today())
	if errors.Is(err, edition.ErrTooSoon) {
		v := releaseView{Form: f, TooSoon: o.Lang.Say("release.toosoon")}
		v.refuse(o.Lang)
		return shell.Render(w, r, status, releasePage(p, v))
	}
	if err != nil {
		return err
	}
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	v := newReleaseView(o.Lang, newGazetteer(places), preview)
	joined, waiting := readSorting(r, "joined", "joined", "sort"), readSorting(r, "sort", "waiting", "joined")
	joined.query.Set("cutoff", f.Cutoff.Value)
	waiting.query.Set("cutoff", f.Cutoff.Value)
	v.sort(o.Lang, joined, waiting)
	v.Form = f
	v.refuse(o.Lang)
	return shell.Render(w, r, status, releasePage(p, v))
}
