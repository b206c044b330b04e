package office

import (
	"crypto/rand"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

func (o *office) peoplePost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	if do := form.Get("do"); do == "require" || do == "relax" {
		if err := o.House.Require(r.Context(), do == "require", o.Today()); err != nil {
			return err
		}
		http.Redirect(w, r, "/office/people?done="+do, http.StatusSeeOther)
		return nil
	}
	t := readPerson(form)
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	who, err := account.NewStaff(t.Login, t.Name, account.Role(t.Role), pickCounties(places, t.Counties))
	if t.Bad = sentences(o.Lang, err); t.Bad != nil {
		return o.showPeople(w, r, http.StatusUnprocessableEntity, peopleView{}, t)
	}
	if err != nil {
		return err
	}
	link, err := account.NewLink(rand.Reader)
	if err != nil {
		return err
	}
	until := o.Today().AddDate(0, 0, account.InviteDays)
	_, err = o.Invites.Invite(r.Context(), who, link, o.Today(), until)
	if errors.Is(err, fault.ErrConflict) {
		t.Bad = map[string]string{"login": o.Lang.Say("people.problem.taken")}
		return o.showPeople(w, r, http.StatusUnprocessableEntity, peopleView{}, t)
	}
	if err != nil {
		return err
	}
	v := peopleView{}
	if v.Link, err = o.given(r, link, who.Name, until); err != nil {
		return err
	}
	return o.showPeople(w, r, http.StatusOK, v, typedPerson{})
}

// readPerson takes the form's own fields.
func readPerson(form url.Values) typedPerson {
	t := typedPerson{Login: line(form, "login"), Name: line(form, "name"), Role: line(form, "role")}
	for _, c := range form["county"] {
		if len(t.Counties) < maxTyped {
			t.Counties = append(t.Counties, shorten(c))
		}
	}
	return t
}

// pickCounties keeps what is a county among typed numbers.
func pickCounties(places []place.Place, typed []string) []place.ID {
	var out []place.ID
	for _, c := range counties(places) {
		if slices.Contains(typed, strconv.Itoa(int(c.ID))) {
			out = append(out, c.ID)
		}
	}
	return out
}

// sentences are the problems of a form by field; nil when err is of another kind.
func sentences(l *catalog.Lang, err error) map[string]string {
	var bad *fault.Invalid
	if !errors.As(err, &bad) {
		return nil
	}
	out := map[string]string{}
	for name, p := range bad.Fields {
		out[name] = l.Say(p.Key, p.Args...)
	}
	return out
}

// given is a new link as the coordinator passes it on.
func (o *office) given(r *http.Request, l account.Link, name string, until time.Time) (givenLink, error) {
	g := givenLink{URL: o.base(r) + "/office/welcome/" + l.String(), Name: name, Until: o.Lang.Date(until)}
	var err error
	g.Square, err = shell.NewSquare(g.URL)
	return g, err
}

// base is where browsers reach the server: as set up, else as this one did.
func (o *office) base(r *http.Request) string {
	if o.BaseURL != "" {
		return strings.TrimRight(o.BaseURL, "/")
	}
	if o.Secure || r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}
