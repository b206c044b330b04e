package office

import (
	"errors"
	"net/http"
	"strconv"
	"time"

	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// lack is what a page cannot do without and a program that has just begun does not
// have yet. Its sentences are lack.<name> in the catalog. As an error it is a thing
// that was not found.
type lack string

const (
	lackGround  lack = "ground"  // no boundaries are in force
	lackSeason  lack = "season"  // no season was ever opened
	lackEdition lack = "edition" // nothing was ever released
)

func (l lack) Error() string { return "the program has no " + string(l) + " yet" }
func (l lack) Unwrap() error { return fault.ErrNotFound }

// needs is what the office's pages are empty without, in the order in which it comes
// to be. Pages that are of use without any of it are not listed.
var needs = map[string][]lack{
	"/office/counter":    {lackSeason},
	"/office/login-bags": {lackSeason},
	"/office/slip":       {lackGround, lackSeason},
	"/office/count":      {lackSeason},
	"/office/upload":     {lackSeason},
	"/office/reported":   {lackSeason},
	"/office/bag":        {lackSeason},
	"/office/sign-off":   {lackSeason},
	"/office/release":    {lackGround, lackSeason},
	"/office/recall":     {lackEdition},
	"/office/editions":   {lackEdition},
	"/office/sheet":      {lackEdition},
	"/office/edge":       {lackEdition},
	"/office/analysis":   {lackGround, lackSeason},
	"/office/lots":       {lackGround, lackSeason},
	"/office/plan":       {lackEdition},
	"/office/lookback":   {lackEdition},
	"/office/annual":     {lackEdition},
}

// orLack answers with what is missing and what to do about it where a page would be
// empty, or would not be there at all.
func (o *office) orLack(route shell.Route) shell.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		err := error(nil)
		if route.Method == http.MethodGet {
			err = o.lacks(r, needs[route.Path])
		}
		if err == nil {
			err = route.Handler(w, r)
		}
		var l lack
		if !errors.As(err, &l) {
			return err
		}
		status := http.StatusOK // the page is there; there is nothing on it yet
		if r.Method == http.MethodPost {
			status = http.StatusConflict
		}
		p := o.page(r, "")
		if p.Title = shell.MenuName(p); p.Title == "" {
			p.Title = o.Lang.Say("lack.title")
		}
		return shell.Render(w, r, status, lackPage(p, newLackView(p, l, o.Today())))
	}
}

// lacks is the first of a list that the program does not have; nil: it has them all.
func (o *office) lacks(r *http.Request, list []lack) error {
	for _, l := range list {
		have := false
		switch l {
		case lackGround:
			places, err := o.Program.Places(r.Context())
			if err != nil {
				return err
			}
			have = len(places) > 0
		case lackSeason:
			seasons, err := o.Program.Seasons(r.Context())
			if err != nil {
				return err
			}
			have = len(seasons) > 0
		case lackEdition:
			v, err := o.Newest.Version(r.Context())
			if err != nil {
				return err
			}
			have = v.Number > 0
		}
		if !have {
			return l
		}
	}
	return nil
}

// lackView is a page that says what is missing.
type lackView struct {
	Text    string
	Href    string // where it is done; empty: by a command, or by somebody else
	Link    string
	Command string
	Ask     string // who does it, to those who may not
}

func newLackView(p shell.Page, l lack, today time.Time) lackView {
	v := lackView{Text: p.SayOf("lack", string(l))}
	by := map[lack]string{lackGround: "/office/boundaries", lackSeason: "/office/lots", lackEdition: "/office/release"}[l]
	switch {
	case !shell.Opens(p.Staff, by):
		v.Ask = p.SayOf("lack.ask", string(l))
	case l == lackSeason:
		v.Command = seasonCommand(today)
	default:
		v.Href, v.Link = by, p.SayOf("lack.go", string(l))
	}
	return v
}

// seasonCommand opens the fall of today's year, with days to change.
func seasonCommand(today time.Time) string {
	year := strconv.Itoa(today.Year())
	return "sixmile season " + year + " --opens " + year + "-08-15 --closes " + strconv.Itoa(today.Year()+1) + "-06-30"
}
