package office

import (
	"errors"
	"net/http"
	"strconv"

	"sixmile/internal/fault"
	"sixmile/internal/outlook"
	"sixmile/web/shell"
)

// lookBins is how many bins chances are sorted into: few, since a plan has a
// hundred townships or so.
const lookBins = 5

// lookbackShow holds a saved plan against what was released since.
func (o *office) lookbackShow(w http.ResponseWriter, r *http.Request) error {
	list, err := o.Plans.List(r.Context())
	if err != nil {
		return err
	}
	v := lookView{}
	x, err := o.almanac.newest(r.Context(), o.Figures)
	if errors.Is(err, fault.ErrNotFound) || err == nil && len(list) == 0 {
		return o.showLookback(w, r, v)
	}
	if err != nil {
		return err
	}
	asked := line(r.URL.Query(), "plan")
	no := 0
	for _, p := range list { // without a choice, the newest plan of a fall that the map has
		no = p.No
		if p.Season <= x.Issue.Edition.Season {
			break
		}
	}
	if asked != "" {
		if no, err = strconv.Atoi(asked); err != nil || no < 1 || no > 1<<30 {
			return fault.ErrNotFound
		}
	}
	p, err := o.Plans.Get(r.Context(), no)
	if err != nil {
		return err
	}
	back, ok, err := outlook.Since(p, x, lookBins)
	if err != nil {
		return err
	}
	v = newLookView(o.Lang, x, list, p, back, ok)
	v.sort(o.Lang, readSorting(r, "sort", "seen", "plan"))
	return o.showLookback(w, r, v)
}

func (o *office) showLookback(w http.ResponseWriter, r *http.Request, v lookView) error {
	p := o.page(r, o.Lang.Say("lookback.title"))
	p.Wide = true
	return shell.Render(w, r, http.StatusOK, lookPage(p, v))
}
