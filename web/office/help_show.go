package office

import (
	"net/http"
	"slices"

	"github.com/a-h/templ"

	"sixmile/internal/account"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// duty is a guide of one page: duty.name.<Name>, at /office/help/<Name>. Every
// role may read each of them; For is the role that finds it on its desk.
type duty struct {
	Name string
	For  account.Role
}

var duties = []duty{
	{"counter", account.Clerk},
	{"lab", account.Technician},
	{"meetings", account.Educator},
	{"program", account.Coordinator},
}

func dutyOf(r account.Role) string {
	i := slices.IndexFunc(duties, func(d duty) bool { return d.For == r })
	if i < 0 {
		return ""
	}
	return duties[i].Name
}

func (o *office) helpRoutes() []shell.Route {
	const get = http.MethodGet
	return []shell.Route{
		{Method: get, Path: "/office/help", May: account.SignedIn, Handler: o.helpShow},
		{Method: get, Path: "/office/help/counter", May: account.SignedIn, Handler: o.guide("duty.counter.title", counterGuide)},
		{Method: get, Path: "/office/help/lab", May: account.SignedIn, Handler: o.guide("duty.lab.title", labGuide)},
		{Method: get, Path: "/office/help/meetings", May: account.SignedIn, Handler: o.guide("duty.meetings.title", meetingsGuide)},
		{Method: get, Path: "/office/help/program", May: account.SignedIn, Handler: o.guide("duty.program.title", programGuide)},
		{Method: get, Path: "/office/help/meeting", May: account.SignedIn, Handler: o.lessonShow},
	}
}

func (o *office) helpShow(w http.ResponseWriter, r *http.Request) error {
	return shell.Render(w, r, http.StatusOK, helpPage(o.page(r, o.Lang.Say("duty.title")), dutyOf(shell.Staff(r).Role)))
}

func (o *office) guide(title string, body func(shell.Page) templ.Component) shell.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		return shell.Render(w, r, http.StatusOK, body(o.page(r, o.Lang.Say(title))))
	}
}

// lessonView is the plan of a meeting and, once a county is chosen, its sheets.
type lessonView struct {
	Counties []place.Place
	County   *place.Place
	Unknown  bool // what was asked for is no county
}

func (o *office) lessonShow(w http.ResponseWriter, r *http.Request) error {
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	v := viewLesson(places, r.URL.Query().Get("county"), shell.Staff(r))
	status := http.StatusOK
	if v.Unknown {
		status = http.StatusUnprocessableEntity
	}
	return shell.Render(w, r, status, lessonPage(o.page(r, o.Lang.Say("lesson.title")), v))
}

// viewLesson picks the county asked for, or else the first of the person's own.
func viewLesson(places []place.Place, slug string, who *account.Staff) lessonView {
	var v lessonView
	for _, p := range places {
		if p.Kind == place.County {
			v.Counties = append(v.Counties, p)
		}
	}
	for i, c := range v.Counties {
		own := slug == "" && len(who.Counties) > 0 && c.ID == who.Counties[0]
		if own || slug != "" && c.Slug == slug {
			v.County = &v.Counties[i]
		}
	}
	v.Unknown = slug != "" && v.County == nil
	return v
}
