package open

import (
	"net/http"
	"time"

	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// bagsCounty is where one county's bags are.
type bagsCounty struct {
	place.Place
	Office *desk.Office // nil: none is listed
	Over   bool         // its last day has passed
}

// bags lists the offices by county.
func (g *grower) bags(w http.ResponseWriter, r *http.Request) error {
	known, err := g.known.get(r.Context())
	if err != nil {
		return err
	}
	offices, err := g.Offices.Offices(r.Context())
	if err != nil {
		return err
	}
	p := g.page(g.Lang.Say("bags.title"), "bags")
	p.Wide = true
	return shell.Render(w, r, http.StatusOK, bagsPage(p, viewBags(known.counties, offices, g.Today())))
}

func viewBags(counties []place.Place, offices []desk.Office, today time.Time) []bagsCounty {
	var out []bagsCounty
	for _, c := range counties {
		b := bagsCounty{Place: c, Office: officeOf(offices, c.ID)}
		b.Over = b.Office != nil && b.Office.LastDay != nil && today.After(*b.Office.LastDay)
		out = append(out, b)
	}
	return out
}
