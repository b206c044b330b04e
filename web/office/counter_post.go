package office

import (
	"errors"
	"net/http"
	"slices"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// counterPost does what the pressed button says; a scanner's Enter hands out.
func (o *office) counterPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	person := readGiven(form.Get("person"))
	switch form.Get("do") {
	case "next":
		return o.showCounter(w, r, http.StatusOK, newCounterView(nil))
	case "same":
		return o.counterTie(w, r, person)
	case "back":
		return o.counterMove(w, r, line(form, "code"), person, true)
	}
	return o.counterMove(w, r, line(form, "scan"), person, false)
}

// counterMove hands out or takes back the bundle of a code.
func (o *office) counterMove(w http.ResponseWriter, r *http.Request, typed string, person []given, back bool) error {
	code, err := bag.Parse(scanned(typed))
	if err != nil {
		return o.counterRefused(w, r, person, codeProblem(o.Lang, err))
	}
	move := o.Counter.HandOut
	if back {
		move = o.Counter.TakeBack
	}
	b, err := move(r.Context(), code, shell.Staff(r).Reach(account.HandOut), o.Today())
	if errors.Is(err, fault.ErrNotFound) {
		return o.counterRefused(w, r, person, o.Lang.Say("counter.unknown", "code", code.String()))
	}
	if err != nil {
		return err
	}
	person = without(person, b)
	if !back {
		person = append([]given{{code, len(b.Bags)}}, person...)
		person = person[:min(len(person), maxGiven)]
	}
	v := newCounterView(person)
	v.Last = newHanded(o.Lang, b, back)
	return o.showCounter(w, r, http.StatusOK, v)
}

func (o *office) counterRefused(w http.ResponseWriter, r *http.Request, person []given, why string) error {
	v := newCounterView(person)
	v.Scan.Problem = why // the field is left empty: a scanner would write behind what stands there
	return o.showCounter(w, r, http.StatusUnprocessableEntity, v)
}

// without leaves out what is of the bundle b.
func without(person []given, b desk.Bundle) []given {
	return slices.DeleteFunc(slices.Clone(person), func(g given) bool {
		return slices.ContainsFunc(b.Bags, func(one desk.BundleBag) bool { return one.Code == g.Code })
	})
}

// newHanded says what became of a bundle that was scanned.
func newHanded(l *catalog.Lang, b desk.Bundle, back bool) *handed {
	h := &handed{Fine: b.Changed > 0}
	switch {
	case back && b.Changed > 0:
		h.Text = l.Count("counter.back", b.Changed)
	case back:
		h.Text = l.Say("counter.back.none")
	case b.Changed > 0:
		h.Text = l.Count("counter.out", b.Changed)
	default:
		h.Text = l.Say("counter.before")
	}
	for _, one := range b.Bags {
		h.Codes = append(h.Codes, bundleCode{one.Code.String(), l.SayOf("counter.state", string(one.State))})
	}
	return h
}

// counterTie says that the bundles in the list went to one person.
func (o *office) counterTie(w http.ResponseWriter, r *http.Request, person []given) error {
	if len(person) < 2 {
		v := newCounterView(person)
		v.Wrong = o.Lang.Say("counter.tie.few")
		return o.showCounter(w, r, http.StatusUnprocessableEntity, v)
	}
	var codes []bag.Code
	for _, g := range person {
		codes = append(codes, g.Code)
	}
	tied, err := o.Counter.Tie(r.Context(), codes, shell.Staff(r).Reach(account.HandOut), o.Today())
	v := newCounterView(person)
	switch {
	case errors.Is(err, fault.ErrConflict):
		v.Wrong = o.Lang.Say("counter.tie.late")
	case errors.Is(err, fault.ErrNotFound):
		v.Wrong = o.Lang.Say("counter.tie.unknown")
	case err != nil:
		return err
	default:
		v = newCounterView(nil)
		v.Done = o.Lang.Count("counter.tied", len(tied))
		return o.showCounter(w, r, http.StatusOK, v)
	}
	return o.showCounter(w, r, http.StatusUnprocessableEntity, v)
}
