package office

import (
	"errors"
	"net/http"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// countPost finds a bag, shows what a count comes to, or saves it.
func (o *office) countPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	if form.Has("find") {
		return o.openBag(w, r, line(form, "find"), line(form, "method"), false)
	}
	return o.keyed(w, r, readTyped(form), form.Get("do") == "show")
}

// countPreview answers with what the form comes to as it stands, and nothing
// around it: the script puts it beside the form.
func (o *office) countPreview(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	t := readTyped(form)
	m, _ := findMethod(l.methods, t.Method)
	v, _, _, err := newReadingView(o.Lang, l.scheme, m, t)
	if err != nil {
		return err
	}
	return shell.Render(w, r, http.StatusOK, readingBox(o.page(r, ""), v))
}

// keyed works out a keyed count, and saves it unless it is only to be shown.
func (o *office) keyed(w http.ResponseWriter, r *http.Request, t typedCount, showOnly bool) error {
	code, err := bag.Parse(t.Code)
	if err != nil {
		return fault.ErrNotFound // the page's own hidden field was changed
	}
	replaces, ok := parseID(t.Replaces)
	if !ok {
		return fault.ErrNotFound
	}
	b, err := o.Lab.Find(r.Context(), code)
	if err != nil {
		return err
	}
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	if why := stop(o.Lang, b); why != "" {
		return o.showCount(w, r, http.StatusConflict, countView{Find: field{Name: "find"}, Method: t.Method, Stop: why})
	}
	changed := t.follow(l.methods)
	m, _ := findMethod(l.methods, t.Method)
	reading, c, bad, err := newReadingView(o.Lang, l.scheme, m, t)
	if err != nil {
		return err
	}
	k := keyedCount{lab: l, bag: b, typed: t, count: c, method: m, reading: reading, changed: changed}
	switch {
	case len(bad) > 0 && (!showOnly || !onlyMissing(bad)):
		return o.showKeyed(w, r, http.StatusUnprocessableEntity, k, bad)
	case showOnly || changed:
		return o.showKeyed(w, r, http.StatusOK, k, nil)
	case replaces != b.Head:
		return o.faster(w, r, k)
	}
	if k.why, err = assay.ParseCorrection(t.Why); replaces != (desk.ID{}) && err != nil {
		return o.showKeyed(w, r, http.StatusUnprocessableEntity, k, map[string]assay.Problem{"why": assay.Missing})
	}
	if replaces == (desk.ID{}) {
		k.why = ""
	}
	return o.save(w, r, k, replaces)
}

// keyedCount is a count on its way to the store.
type keyedCount struct {
	lab      lab
	bag      desk.LabBag
	typed    typedCount
	count    assay.Count
	method   assay.Method
	why      assay.Correction
	reading  readingView
	changed  bool
	conflict string
}

func (o *office) showKeyed(w http.ResponseWriter, r *http.Request, status int, k keyedCount, bad map[string]assay.Problem) error {
	v := countView{Find: field{Name: "find"}, Method: k.typed.Method, Reading: k.reading}
	v.Bag = newBagView(o.Lang, k.lab, k.bag, k.typed, bad)
	v.Bag.Conflict, v.Bag.Changed = k.conflict, k.changed
	return o.showCount(w, r, status, v)
}

func (o *office) save(w http.ResponseWriter, r *http.Request, k keyedCount, replaces desk.ID) error {
	err := o.Lab.Record(r.Context(), desk.Keyed{
		Code: k.bag.Code, Method: k.method, Count: k.count, Replaces: replaces, Why: k.why, Day: o.Today(),
	}, shell.Staff(r).ID)
	if err == nil {
		return o.saved(w, r, k)
	}
	if !errors.Is(err, fault.ErrConflict) && !errors.Is(err, fault.ErrNotFound) {
		return err
	}
	// Something happened to the bag since this page was shown.
	if k.bag, err = o.Lab.Find(r.Context(), k.bag.Code); err != nil {
		return err
	}
	if why := stop(o.Lang, k.bag); why != "" {
		return o.showCount(w, r, http.StatusConflict, countView{Find: field{Name: "find"}, Method: k.typed.Method, Stop: why})
	}
	return o.faster(w, r, k)
}

// faster shows that another count was saved in the meantime, with both values;
// the technician's own stays in the form. The same count again is the same
// button pressed twice: it is saved already.
func (o *office) faster(w http.ResponseWriter, r *http.Request, k keyedCount) error {
	if k.bag.Head == (desk.ID{}) {
		return fault.ErrConflict
	}
	if sameCount(k.bag.Count, k.count) {
		return o.saved(w, r, k)
	}
	mine, err := k.count.Density(k.method)
	if err != nil {
		return err
	}
	k.conflict = o.Lang.Say("count.conflict",
		"theirs", resultLine(o.Lang, k.lab.scheme, k.bag.Code, k.bag.Reading),
		"yours", resultLine(o.Lang, k.lab.scheme, k.bag.Code, mine))
	k.typed.Replaces, k.typed.Why = idText(k.bag.Head), ""
	return o.showKeyed(w, r, http.StatusConflict, k, nil)
}

// saved goes back to the field for the next bag, with this one's result shown.
func (o *office) saved(w http.ResponseWriter, r *http.Request, k keyedCount) error {
	reading, err := k.count.Density(k.method)
	if err != nil {
		return err
	}
	return o.showCount(w, r, http.StatusOK, countView{
		Find: field{Name: "find"}, Method: k.typed.Method,
		Saved: resultLine(o.Lang, k.lab.scheme, k.bag.Code, reading),
	})
}

// onlyMissing tells whether nothing is wrong but that something is not keyed yet.
func onlyMissing(bad map[string]assay.Problem) bool {
	for _, p := range bad {
		if p != assay.Missing {
			return false
		}
	}
	return true
}
