package office

import (
	"net/http"
	"net/url"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

// addressView is a person's mail address as a form: for its owner and for
// coordinators, and only where the server has mail to send.
type addressView struct {
	Show bool
	Kept bool
	Mail field
}

// addressOf is what is kept of somebody, or what was typed where that was refused.
func (o *office) addressOf(r *http.Request, who account.ID, refused field) (addressView, error) {
	v := addressView{Show: o.Mail != nil, Mail: refused}
	if !v.Show {
		return addressView{}, nil
	}
	kept, err := o.Addresses.Address(r.Context(), who)
	v.Kept = kept != ""
	if v.Mail.Name == "" {
		v.Mail = field{Name: "address", Value: string(kept)}
	}
	return v, err
}

// takeAddress keeps what was typed, or gives it back with what is wrong with it.
// Who had another address is told there.
func (o *office) takeAddress(r *http.Request, who account.ID, login, typed string) (field, error) {
	f := field{Name: "address", Value: typed}
	if o.Mail == nil {
		return f, nil // nothing is kept that nothing is sent to
	}
	a, err := account.ParseAddress(typed)
	if err != nil {
		f.Problem = o.Lang.Say("own.address.wrong")
		return f, nil
	}
	before, err := o.Addresses.SetAddress(r.Context(), who, a, o.Today())
	if err == nil {
		o.tellMoved(before, a, login)
	}
	return f, err
}

// ownAddress changes the own address, for whoever knows the password.
func (o *office) ownAddress(r *http.Request, form url.Values) (v ownView, err error) {
	v = newOwnView()
	who := shell.Staff(r)
	v.typed = field{Name: "address", Value: line(form, "address")}
	if v.Sure.Problem, err = o.wrongPassword(r, who.Login, form.Get("sure")); err != nil || v.Sure.Problem != "" {
		v.Refused = refusals(v.Sure)
		return v, err
	}
	v.typed, err = o.takeAddress(r, who.ID, who.Login, v.typed.Value)
	v.Refused = refusals(v.typed)
	return v, err
}

// personAddress changes somebody's, for a coordinator.
func (o *office) personAddress(w http.ResponseWriter, r *http.Request, p account.Person, typed string) error {
	f, err := o.takeAddress(r, p.ID, p.Login, typed)
	if err != nil {
		return err
	}
	if f.Problem != "" {
		return o.showPerson(w, r, http.StatusUnprocessableEntity, personView{Person: p, typed: f}, typedOf(p))
	}
	http.Redirect(w, r, personPath(p.ID)+"?done=address", http.StatusSeeOther)
	return nil
}
