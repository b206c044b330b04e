package office

import (
	"context"
	"net/http"
	"slices"
	"time"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

// OwnPassword changes the password of who is signed in.
type OwnPassword interface {
	// SetPassword ends all sessions but the one of keep.
	SetPassword(ctx context.Context, who account.ID, passwordHash string, keep account.Token, today time.Time) error
}

// ownView is a person's own account.
type ownView struct {
	Who      *account.Staff
	Counties string
	Done     string // what was just done, in a sentence

	Second   bool
	Codes    int
	Required bool // everybody has to have a second step

	Sessions []sessionRow

	Current, Password, Again field
	Off                      field // the password asked for before a second step is removed
	Address                  addressView
	Sure                     field // the password asked for before the address is changed
	typed                    field // an address that was refused
	Refused                  []refusal
}

func newOwnView() ownView {
	return ownView{Current: field{Name: "current"}, Password: field{Name: "password"}, Again: field{Name: "again"}, Off: field{Name: "off"}, Sure: field{Name: "sure"}}
}

func (o *office) ownShow(w http.ResponseWriter, r *http.Request) error {
	v := newOwnView()
	if done := r.URL.Query().Get("done"); o.Lang.Has("own.done." + done) {
		v.Done = o.Lang.SayOf("own.done", done)
	}
	return o.showOwn(w, r, http.StatusOK, v)
}

func (o *office) showOwn(w http.ResponseWriter, r *http.Request, status int, v ownView) error {
	ctx := r.Context()
	v.Who = shell.Staff(r)
	second, err := o.Seconds.Second(ctx, v.Who.ID)
	if err != nil {
		return err
	}
	v.Second, v.Codes = second.On, second.Codes
	if v.Required, err = o.House.Required(ctx); err != nil {
		return err
	}
	token, _ := cookieToken(r)
	list, err := o.Sessions.Sessions(ctx, v.Who.ID, token, o.Today())
	if err != nil {
		return err
	}
	places, err := o.Program.Places(ctx)
	if err != nil {
		return err
	}
	v.Sessions = sessionRows(o.Lang, list)
	v.Counties = joinNames(o.Lang, newGazetteer(places), v.Who.Counties)
	if v.Address, err = o.addressOf(r, v.Who.ID, v.typed); err != nil {
		return err
	}
	address, off := refusals(v.Address.Mail, v.Sure), refusals(v.Off)
	if !v.Address.Show {
		address = astray(address)
	}
	if !v.Second || v.Required {
		off = astray(off)
	}
	v.Refused = slices.Concat(address, refusals(v.Current, v.Password, v.Again), off)
	return shell.Render(w, r, status, ownPage(o.page(r, o.Lang.Say("own.title")), v))
}

// ownPost does what the pressed button says.
func (o *office) ownPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	who := shell.Staff(r)
	token, _ := cookieToken(r)
	done := form.Get("do")
	switch done {
	case "password":
		v, err := o.changePassword(r, form.Get("current"), form.Get("password"), form.Get("again"))
		if err != nil {
			return err
		}
		if len(v.Refused) > 0 {
			return o.showOwn(w, r, http.StatusUnprocessableEntity, v)
		}
	case "address":
		v, err := o.ownAddress(r, form)
		if err != nil {
			return err
		}
		if len(v.Refused) > 0 {
			return o.showOwn(w, r, http.StatusUnprocessableEntity, v)
		}
	case "end":
		id, ok := parseID(form.Get("session"))
		if ok {
			err = o.Sessions.EndSession(r.Context(), who.ID, id)
		}
	case "others":
		err = o.Sessions.EndOthers(r.Context(), who.ID, token)
	case "off":
		v := newOwnView()
		if v.Off.Problem, err = o.wrongPassword(r, who.Login, form.Get("off")); err != nil {
			return err
		}
		if v.Off.Problem != "" {
			return o.showOwn(w, r, http.StatusUnprocessableEntity, v)
		}
		err = o.Seconds.DropSecond(r.Context(), who.ID, o.Today())
	default:
		done = ""
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/office/me?done="+done, http.StatusSeeOther)
	return nil
}

// changePassword changes the own password, or says why not in the view's Refused.
func (o *office) changePassword(r *http.Request, current, password, again string) (v ownView, err error) {
	v = newOwnView()
	who := shell.Staff(r)
	if v.Current.Problem, err = o.wrongPassword(r, who.Login, current); err != nil {
		return v, err
	}
	hash := ""
	if v.Current.Problem == "" {
		if hash, err = o.newPassword(r.Context(), who.Login, password, again, &v.Password, &v.Again); err != nil {
			return v, err
		}
	}
	if v.Refused = refusals(v.Current, v.Password, v.Again); len(v.Refused) > 0 {
		return v, nil
	}
	token, _ := cookieToken(r)
	if err = o.OwnPassword.SetPassword(r.Context(), who.ID, hash, token, o.Today()); err == nil {
		o.tellChanged(who.ID, who.Login)
	}
	return v, err
}

// wrongPassword is the sentence for a password that is not the own one; empty
// for the right one. It waits its turn like a sign-in: a browser left alone must
// not be a place to guess.
func (o *office) wrongPassword(r *http.Request, login, password string) (string, error) {
	wait, ok := o.gate.book(login, o.now())
	if !ok {
		return o.Lang.Say("signin.busy"), nil
	}
	if err := o.sleep(r.Context(), wait); err != nil {
		return "", err
	}
	_, right, err := o.identify(r.Context(), login, password)
	if err != nil {
		return "", err
	}
	if !right {
		return o.Lang.Say("own.password.wrong"), nil
	}
	o.gate.forget(login)
	return "", nil
}
