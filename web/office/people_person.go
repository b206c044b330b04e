package office

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// Access is what a coordinator does about somebody's way in.
type Access interface {
	// GiveLink: fault.ErrNotFound for a closed account.
	GiveLink(ctx context.Context, id account.ID, l account.Link, today, expires time.Time) error
	// SetActive: account.ErrLastCoordinator when none would be left.
	SetActive(ctx context.Context, id account.ID, active bool, today time.Time) error
	EndSessions(ctx context.Context, who account.ID, today time.Time) error
}

// personView is one person's page.
type personView struct {
	Person account.Person
	State  string
	Used   string // last day a session was used; empty for none
	Self   bool   // it is who looks
	Form   personForm
	Link   givenLink
	Done   string
	Wrong  string // why nothing was changed

	Address addressView
	typed   field // an address that was refused
}

func (o *office) personShow(w http.ResponseWriter, r *http.Request) error {
	p, err := o.personOf(r)
	if err != nil {
		return err
	}
	v := personView{Person: p}
	if done := r.URL.Query().Get("done"); o.Lang.Has("person.done." + done) {
		v.Done = o.Lang.SayOf("person.done", done)
	}
	return o.showPerson(w, r, http.StatusOK, v, typedOf(p))
}

func (o *office) personOf(r *http.Request) (account.Person, error) {
	id, ok := parseID(chi.URLParam(r, "id"))
	if !ok || id == (desk.ID{}) {
		return account.Person{}, fault.ErrNotFound
	}
	return o.Roster.Person(r.Context(), account.ID(id), o.Today())
}

func typedOf(p account.Person) typedPerson {
	t := typedPerson{Login: p.Login, Name: p.Name, Role: string(p.Role)}
	for _, c := range p.Counties {
		t.Counties = append(t.Counties, strconv.Itoa(int(c)))
	}
	return t
}

func (o *office) showPerson(w http.ResponseWriter, r *http.Request, status int, v personView, t typedPerson) error {
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	v.Form = newPersonForm(o.Lang, counties(places), t)
	v.State = personState(o.Lang, v.Person)
	v.Self = v.Person.ID == shell.Staff(r).ID
	if v.Address, err = o.addressOf(r, v.Person.ID, v.typed); err != nil {
		return err
	}
	address := refusals(v.Address.Mail)
	if !v.Person.Active {
		address = astray(address)
	}
	v.Form.Refused = append(v.Form.Refused, address...)
	if v.Person.LastUsed != nil {
		v.Used = o.Lang.Date(*v.Person.LastUsed)
	}
	return shell.Render(w, r, status, personPage(o.page(r, v.Person.Name), v))
}

func (o *office) personPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	p, err := o.personOf(r)
	if err != nil {
		return err
	}
	do := form.Get("do")
	switch do {
	case "save":
		return o.personSave(w, r, p, readPerson(form))
	case "link":
		return o.personLink(w, r, p)
	case "address":
		return o.personAddress(w, r, p, line(form, "address"))
	case "close", "reopen":
		err = o.Access.SetActive(r.Context(), p.ID, do == "reopen", o.Today())
	case "end":
		err = o.Access.EndSessions(r.Context(), p.ID, o.Today())
	default:
		do = ""
	}
	if errors.Is(err, account.ErrLastCoordinator) {
		return o.showPerson(w, r, http.StatusConflict, personView{Person: p, Wrong: o.Lang.Say("person.last")}, typedOf(p))
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, personPath(p.ID)+"?done="+do, http.StatusSeeOther)
	return nil
}

// personSave changes name, role and counties; the login stays what it is.
func (o *office) personSave(w http.ResponseWriter, r *http.Request, p account.Person, t typedPerson) error {
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	t.Login = p.Login
	next, err := account.NewStaff(p.Login, t.Name, account.Role(t.Role), pickCounties(places, t.Counties))
	if t.Bad = sentences(o.Lang, err); t.Bad != nil {
		return o.showPerson(w, r, http.StatusUnprocessableEntity, personView{Person: p}, t)
	}
	if err != nil {
		return err
	}
	next.ID = p.ID
	err = o.Roster.Assign(r.Context(), next, o.Today())
	if errors.Is(err, account.ErrLastCoordinator) {
		return o.showPerson(w, r, http.StatusConflict, personView{Person: p, Wrong: o.Lang.Say("person.last")}, t)
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, personPath(p.ID)+"?done=save", http.StatusSeeOther)
	return nil
}

// personLink makes a link to a new password and shows it, once.
func (o *office) personLink(w http.ResponseWriter, r *http.Request, p account.Person) error {
	link, err := account.NewLink(rand.Reader)
	if err != nil {
		return err
	}
	days := account.ResetDays
	if !p.Joined {
		days = account.InviteDays
	}
	until := o.Today().AddDate(0, 0, days)
	if err := o.Access.GiveLink(r.Context(), p.ID, link, o.Today(), until); err != nil {
		return err
	}
	p.Link = &until
	v := personView{Person: p}
	if v.Link, err = o.given(r, link, p.Name, until); err != nil {
		return err
	}
	return o.showPerson(w, r, http.StatusOK, v, typedOf(p))
}
