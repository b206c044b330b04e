package open

import (
	"net/http"
	"net/url"
	"strconv"

	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// sendForm shows the choice of counties, and then the form with one block.
func (g *grower) sendForm(w http.ResponseWriter, r *http.Request) error {
	known, err := g.known.get(r.Context())
	if err != nil {
		return err
	}
	query := r.URL.Query()
	code := typed(query, "bag")
	county, ok := known.bySlug(query.Get("county"))
	if !ok && len(known.counties) == 1 {
		county, ok = known.counties[0], true
	}
	// Going back to the form has to show it with its token; asking for it anew
	// has to give a new one.
	w.Header().Set("Cache-Control", "private, no-cache")
	if !ok {
		status, unknown := http.StatusOK, query.Get("county") != ""
		if unknown {
			status = http.StatusNotFound
		}
		p := g.page(g.Lang.Say("send.title"), "send")
		return shell.Render(w, r, status, sendCounties(p, known.counties, code, unknown))
	}
	token, err := sample.NewToken(g.Random)
	if err != nil {
		return err
	}
	b := sample.FormBag{Code: code, County: idString(county)}
	for _, t := range known.townships[county.ID] {
		if idString(t) == query.Get("township") { // a tap on the map
			b.Township = idString(t)
		}
	}
	f := sample.Form{Token: token.String(), Bags: []sample.FormBag{b}}
	return g.showForm(w, r, http.StatusOK, viewSend(f, known, g.Today(), nil))
}

func (g *grower) showForm(w http.ResponseWriter, r *http.Request, status int, v sendView) error {
	p := g.page(g.Lang.Say("send.title"), "send")
	p.Scripts = []string{"send.js"}
	keepFinds(&v, r)
	if v.Ways = g.ways(r.Context()); v.Ways.Names {
		p.Scripts = append(p.Scripts, "place.js")
	}
	return shell.Render(w, r, status, sendPage(p, v))
}

// sendTownships gives the list of a county's townships to the form's script.
func (g *grower) sendTownships(w http.ResponseWriter, r *http.Request) error {
	known, err := g.known.get(r.Context())
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt(r.URL.Query().Get("county"), 10, 32)
	if err != nil || known.places[place.ID(id)].Kind != place.County {
		return fault.ErrNotFound
	}
	w.Header().Set("Cache-Control", "public, max-age=300")
	p := g.page("", "send")
	return shell.Render(w, r, http.StatusOK, townshipOptions(p, known.townships[place.ID(id)], ""))
}

// sendHref is the form for a county, with the code that came with the reader.
func sendHref(county place.Place, code string) string {
	q := url.Values{"county": {county.Slug}}
	if code != "" {
		q.Set("bag", code)
	}
	return "/send?" + q.Encode()
}
