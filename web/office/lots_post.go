package office

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// typedLot is the form as it was typed.
type typedLot struct{ Token, County, Bags, Sizes, Season string }

// order is a lot to be issued.
type order struct {
	token  sample.Token
	county place.ID
	season int
	packs  []bag.Pack
}

func (o *office) lotsPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	t := typedLot{line(form, "token"), line(form, "county"), line(form, "bags"), line(form, "sizes"), line(form, "season")}
	v, err := o.lots(r.Context(), t, nil)
	if err != nil {
		return err
	}
	lot, bad := readOrder(o.Lang, t, v.Form)
	if len(bad) > 0 {
		if v, err = o.lots(r.Context(), t, bad); err != nil {
			return err
		}
		return o.showLots(w, r, http.StatusUnprocessableEntity, v)
	}
	if !shell.Staff(r).MayIn(account.IssueBags, lot.county) {
		return fault.ErrForbidden
	}
	if form.Get("do") == "show" {
		v.Form.Plan = planText(o.Lang, lot.packs)
		return o.showLots(w, r, http.StatusOK, v)
	}
	id, err := o.Lots.IssueOnce(r.Context(), lot.token, lot.county, lot.season, bag.Sizes(lot.packs), o.Today())
	if err != nil {
		return err
	}
	o.Log.Info("lot issued", "season", lot.season, "bundles", len(bag.Sizes(lot.packs)))
	next := url.Values{"season": {strconv.Itoa(lot.season)}, "issued": {idText(id)}}
	http.Redirect(w, r, "/office/lots?"+next.Encode(), http.StatusSeeOther)
	return nil
}

// newLotForm is the form with what was typed and what is wrong with it.
func newLotForm(t typedLot, counties []place.Place, seasons []choice, bad map[string]string) lotForm {
	f := lotForm{
		Token:  t.Token,
		County: field{"county", t.County, bad["county"]},
		Season: field{"season", t.Season, bad["season"]},
		Bags:   field{"bags", t.Bags, bad["bags"]},
		Sizes:  field{"sizes", t.Sizes, bad["sizes"]},
	}
	f.Seasons = seasons
	for _, c := range counties {
		id := strconv.Itoa(int(c.ID))
		f.Counties = append(f.Counties, choice{id, c.Label(), id == t.County})
	}
	f.Refused = refusals(f.County, f.Season, f.Bags, f.Sizes)
	return f
}

// readOrder reads the form against what it offered; the sentences of bad are by
// field.
func readOrder(l *catalog.Lang, t typedLot, f lotForm) (out order, bad map[string]string) {
	bad = map[string]string{}
	if id, ok := pickNumber(f.Counties, t.County); ok {
		out.county = place.ID(id)
	} else {
		bad["county"] = l.Say("lots.problem.county")
	}
	if year, ok := pickNumber(f.Seasons, t.Season); ok {
		out.season = year
	} else {
		bad["season"] = l.Say("lots.problem.season")
	}
	total, err := assay.ParseEggs(t.Bags) // a whole number, typed the same way
	if err != nil || total < 1 || total > bag.MaxLot {
		bad["bags"] = l.Say("lots.problem.bags", "most", bag.MaxLot)
	}
	sizes, ok := readSizes(t.Sizes)
	if !ok {
		bad["sizes"] = l.Say("lots.problem.sizes", "most", bag.MaxBundle)
	}
	if out.token, err = sample.ParseToken(t.Token); err != nil {
		bad["county"] = l.Say("lots.problem.token")
	}
	if len(bad) > 0 {
		return order{}, bad
	}
	if out.packs, err = bag.PlanBundles(total, sizes); err != nil {
		bad["sizes"] = l.Say("lots.problem.sizes", "most", bag.MaxBundle)
	}
	return out, bad
}

func pickNumber(from []choice, typed string) (int, bool) {
	for _, c := range from {
		if c.Value == typed {
			n, err := strconv.Atoi(typed)
			return n, err == nil
		}
	}
	return 0, false
}

// maxSizes is how many bundle sizes may be typed: each size twice.
const maxSizes = 2 * bag.MaxBundle

// readSizes reads bundle sizes parted by commas or spaces.
func readSizes(s string) ([]int, bool) {
	words := strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' || r == ';' })
	if len(words) == 0 || len(words) > maxSizes {
		return nil, false
	}
	var out []int
	for _, w := range words {
		n, err := strconv.Atoi(w)
		if err != nil || n < 1 || n > bag.MaxBundle {
			return nil, false
		}
		out = append(out, n)
	}
	return out, true
}

// planText says a plan in words: "25 bundles of 4 bags".
func planText(l *catalog.Lang, packs []bag.Pack) []string {
	var out []string
	for _, p := range packs {
		out = append(out, l.Count("lots.plan.bundles", p.Count, "bags", l.Count("lots.plan.bags", p.Size)))
	}
	return out
}
