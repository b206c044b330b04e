package open

import (
	"math"
	"net/http"
	"strings"

	"sixmile/internal/assay"
	"sixmile/web/shell"
)

// One bag stands for no more ground than this, from this many cores: Iowa State
// University 2013, the University of Minnesota 2023.
const (
	acresPerBag = 20
	fewestCores = 15
	mostCores   = 20
	mostAcres   = 2000
)

// samplePlan is how to cut a field into parts of one bag each.
type samplePlan struct {
	Acres int
	Bags  int
	Each  int // acres a bag stands for, rounded
	Low   int // cores in all, at the least
	High  int
}

// planSampling cuts acres into equal parts of at most acresPerBag.
func planSampling(acres float64) samplePlan {
	bags := max(1, int(math.Ceil(acres/acresPerBag-1e-9)))
	return samplePlan{Acres: whole(acres), Bags: bags, Each: max(1, whole(acres/float64(bags))), Low: bags * fewestCores, High: bags * mostCores}
}

// sampleTable is for fields of the usual sizes.
func sampleTable() []samplePlan {
	var out []samplePlan
	for _, acres := range []float64{10, 20, 40, 80, 160} {
		out = append(out, planSampling(acres))
	}
	return out
}

// sampleView is what the page on sampling shows.
type sampleView struct {
	Typed   string
	Problem string // key
	Plan    *samplePlan
	Table   []samplePlan
}

// sample says when, where, how deep and how many cores, and what to do with the
// bag.
func (k look) sample(w http.ResponseWriter, r *http.Request) error {
	v := sampleView{Table: sampleTable(), Typed: strings.TrimSpace(strings.ToValidUTF8(r.URL.Query().Get("acres"), ""))}
	if len(v.Typed) > longestTyped {
		v.Typed = strings.ToValidUTF8(v.Typed[:longestTyped], "")
	}
	status := http.StatusOK
	if v.Typed != "" {
		acres, err := assay.ParseNumber(v.Typed)
		if err != nil || acres <= 0 || acres > mostAcres {
			v.Problem, status = "sample.problem.acres", http.StatusUnprocessableEntity
		} else {
			plan := planSampling(acres)
			v.Plan = &plan
		}
	}
	return shell.Render(w, r, status, samplePage(k.page(k.Lang.Say("sample.title")), v))
}
