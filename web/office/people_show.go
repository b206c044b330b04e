package office

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// Roster is who works in the office.
type Roster interface {
	List(ctx context.Context, today time.Time) ([]account.Person, error)
	// Person: fault.ErrNotFound for nobody.
	Person(ctx context.Context, id account.ID, today time.Time) (account.Person, error)
	// Assign: account.ErrLastCoordinator when none would be left.
	Assign(ctx context.Context, p account.Staff, today time.Time) error
}

// House is the office's own rules for getting in.
type House interface {
	Required(ctx context.Context) (bool, error)
	Require(ctx context.Context, required bool, today time.Time) error
}

// peopleView is the page of everybody, with the form that invites one more.
type peopleView struct {
	People   []personRow
	Heads    []shell.ColumnHead
	Form     personForm
	Required bool
	Link     givenLink
	Done     string
}

// givenLink is a link that was just made: shown once.
type givenLink struct {
	URL, Name, Until string
	Square           shell.Square
}

// personRow is a line of the table of people.
type personRow struct {
	Name, Login, Role, Counties, State, Second, Used, Href string
	Closed                                                 bool

	used time.Time
}

// personForm is a person as typed.
type personForm struct {
	Login, Name, Role, Counties field
	Roles, From                 []choice
	Refused                     []refusal
}

func (o *office) peopleShow(w http.ResponseWriter, r *http.Request) error {
	v := peopleView{}
	if done := r.URL.Query().Get("done"); o.Lang.Has("people.done." + done) {
		v.Done = o.Lang.SayOf("people.done", done)
	}
	return o.showPeople(w, r, http.StatusOK, v, typedPerson{})
}

func (o *office) showPeople(w http.ResponseWriter, r *http.Request, status int, v peopleView, t typedPerson) error {
	ctx := r.Context()
	places, err := o.Program.Places(ctx)
	if err != nil {
		return err
	}
	list, err := o.Roster.List(ctx, o.Today())
	if err != nil {
		return err
	}
	if v.Required, err = o.House.Required(ctx); err != nil {
		return err
	}
	v.People = personRows(o.Lang, newGazetteer(places), list)
	v.sort(o.Lang, readSorting(r, "sort", "people"))
	v.Form = newPersonForm(o.Lang, counties(places), t)
	p := o.page(r, o.Lang.Say("people.title"))
	p.Wide = true
	return shell.Render(w, r, status, peoplePage(p, v))
}

func personRows(l *catalog.Lang, g gazetteer, list []account.Person) []personRow {
	var out []personRow
	for _, p := range list {
		row := personRow{
			Name: p.Name, Login: p.Login, Role: l.SayOf("role", string(p.Role)), Counties: personCounties(l, g, p.Counties),
			State: personState(l, p), Second: l.Say("people.second.no"), Href: personPath(p.ID), Closed: !p.Active,
		}
		if p.Second {
			row.Second = l.Say("people.second.yes")
		}
		if p.LastUsed != nil {
			row.Used, row.used = l.Date(*p.LastUsed), *p.LastUsed
		}
		out = append(out, row)
	}
	return out
}

// personCounties names a person's counties as long as they are few; the person's own
// page has them all.
func personCounties(l *catalog.Lang, g gazetteer, counties []place.ID) string {
	const few = 4
	if len(counties) > few {
		return l.Count("people.counties.many", len(counties))
	}
	return joinNames(l, g, counties)
}

// sort sorts the table of people.
func (v *peopleView) sort(l *catalog.Lang, s sorting) {
	v.Heads = arrange(&s, v.People,
		inOrder[personRow](l.Say("people.name"), false, false), // and closed accounts last
		byWords("login", l.Say("people.login"), func(r personRow) string { return r.Login }),
		byWords("role", l.Say("people.role"), func(r personRow) string { return r.Role }),
		byWords("counties", l.Say("people.counties"), func(r personRow) string { return r.Counties }),
		byWords("state", l.Say("people.state"), func(r personRow) string { return r.State }),
		byWords("second", l.Say("people.second"), func(r personRow) string { return r.Second }),
		byDay("used", l.Say("people.used"), func(r personRow) time.Time { return r.used }))
}

// personState says whether somebody can sign in, and if not why.
func personState(l *catalog.Lang, p account.Person) string {
	switch {
	case !p.Active:
		return l.Say("people.state.closed")
	case !p.Joined && p.Link != nil:
		return l.Say("people.state.invited", "day", l.Date(*p.Link))
	case !p.Joined:
		return l.Say("people.state.lapsed")
	case p.Link != nil:
		return l.Say("people.state.reset", "day", l.Date(*p.Link))
	}
	return l.Say("people.state.in")
}

func personPath(id account.ID) string { return "/office/people/" + idText(desk.ID(id)) }

// typedPerson is the form as it was typed.
type typedPerson struct {
	Login, Name, Role string
	Counties          []string
	Bad               map[string]string // sentences by field
}

func newPersonForm(l *catalog.Lang, from []place.Place, t typedPerson) personForm {
	f := personForm{
		Login: field{"login", t.Login, t.Bad["login"]}, Name: field{"name", t.Name, t.Bad["name"]},
		Role: field{"role", t.Role, t.Bad["role"]}, Counties: field{"counties", "", t.Bad["counties"]},
	}
	for _, r := range account.Roles {
		f.Roles = append(f.Roles, choice{string(r), l.SayOf("people.role", string(r)), string(r) == t.Role})
	}
	for _, c := range from {
		id := strconv.Itoa(int(c.ID))
		f.From = append(f.From, choice{id, c.Name, slices.Contains(t.Counties, id)})
	}
	f.Refused = refusals(f.Login, f.Name, f.Role, f.Counties)
	return f
}
