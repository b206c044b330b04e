package office

import (
	"math"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/tray"
)

func checks(eggs ...int) []desk.Control {
	m := assay.DefaultMethod()
	var out []desk.Control
	for i, n := range eggs {
		out = append(out, desk.Control{Season: 2026, Tray: i + 1, Cup: 5, Kind: tray.Check, Method: m, Eggs: n, Density: reading(n).Density, Day: today})
	}
	return out
}

func TestTheChartOfCheckSamples(t *testing.T) {
	w := newWorld(t)
	require.Contains(t, w.get(t, tech, "/office/quality").text("main"), "No check sample has been counted")
	w.trays.controls = checks(30, 28, 33, 31)
	require.Contains(t, w.get(t, tech, "/office/quality").text("main"), "The chart needs 20 check samples")
	w.trays.plan.Target = 1500
	page := w.get(t, tech, "/office/quality")
	require.Contains(t, page.text("main"), "Provisional")
	require.Equal(t, 4, page.Find("svg .point").Length())
	require.Zero(t, page.Find("svg .flagged").Length())
	require.Equal(t, 7, page.Find("svg line").Length())
	require.Contains(t, page.text("svg"), "1,500", "the center is the density that the soil is known to have")

	w.trays.controls = checks(30, 28, 33, 31, 27, 30, 35, 29, 31, 30, 26, 33, 30, 32, 28, 31, 29, 34, 30, 27, 90)
	page = w.get(t, tech, "/office/quality")
	require.NotContains(t, page.text("main"), "Provisional")
	require.Equal(t, 1, page.Find("svg .flagged").Length())
	require.Contains(t, page.text("main"), "1 point is flagged.")
	require.Equal(t, 21, page.Find("details tbody tr").Length())
	require.Contains(t, page.text("details tbody tr:last-child"), "One point beyond three sigmas.")

	// A new recipe is another series: it has its own chart, and the page says so.
	other := checks(12, 11, 13)
	for i := range other {
		other[i].Method = assay.PresetMethods()[1]
	}
	w.trays.controls = append(w.trays.controls, other...)
	page = w.get(t, tech, "/office/quality")
	require.Equal(t, 3, page.Find("svg .point").Length())
	require.Contains(t, page.text("main"), "Provisional")
	require.Contains(t, page.text("main"), "21 check samples were counted by other recipes")

	w.trays.controls = checks(make([]int, 20)...)
	require.Contains(t, w.get(t, tech, "/office/quality").text("main"), "do not vary at all")
}

// Where a point stands on the paper is where its root lies between the lines.
func TestAChartIsDrawnToScale(t *testing.T) {
	l := newWorld(t).office.Lang
	c := assay.Chart{Center: 40, Sigma: 2} // roots: the center is 1,600, three sigmas up 46² = 2,116
	v := newChartView(l, c, false, []desk.Control{{Tray: 1, Density: 1600}, {Tray: 2, Density: 2116}, {Tray: 3, Density: 1e6}, {Tray: 4}})
	require.Equal(t, "160", v.Points[0].Y)
	require.Equal(t, v.Lines[0].Y, v.Points[1].Y)
	require.Equal(t, "2,116", v.Lines[0].Name)
	require.Equal(t, "0", v.Points[2].Y, "what lies beyond stands on the edge")
	require.Equal(t, "320", v.Points[3].Y)
	require.Equal(t, "3.0", v.Points[1].Sigmas)
	require.Equal(t, "", newChartView(l, c, false, []desk.Control{{Density: 1600}}).Path)
	require.InDelta(t, math.Sqrt(2116), 46, 1e-9)
}

func TestASecondCount(t *testing.T) {
	w := newWorld(t)
	w.lab.put(codes[0], w.recipes.methods[0].Count(42), w.recipes.methods[0])
	page := w.get(t, tech, "/office/quality")
	form := with(page.fields("form[action='/office/quality']"), "code", codes[0].String(), "eggs", "90", "kind", "same_suspension")
	saved := w.post(t, tech, "/office/quality", form...)
	require.Equal(t, http.StatusOK, saved.status)
	require.Len(t, w.twins.twins, 1)
	// 42 and 90 eggs: 48 over a mean of 66.
	require.Contains(t, saved.text("main"), "2,100 4,500 73%")
	require.Contains(t, saved.text("main"), "1 pair lies further apart than that.")
	require.Empty(t, w.lab.records, "it changes no answer")
	for name, bad := range map[string][]string{
		"no code": with(form, "code", ""), "no such bag": with(form, "code", codes[7].String()), "not counted": with(form, "code", codes[3].String()),
		"no eggs": with(form, "eggs", "many"), "no milliliters": with(form, "ml", "0"), "more than there is": with(form, "ml", "500"),
	} {
		got := w.post(t, tech, "/office/quality", bad...)
		require.Equal(t, http.StatusUnprocessableEntity, got.status, name)
		require.Equal(t, 1, got.Find(".problems li").Length(), name)
		require.Equal(t, asMap(bad)["eggs"], got.attr("#eggs", "value"), name)
	}
}

// What is asked for again, and the form that adds another look to it.
func TestAnotherLook(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, tech, "/office/trays")
	require.Contains(t, page.text("#again ~ .scroll tbody"), codes[0].String()+": 2,050, moderate")
	require.NotContains(t, page.text("#again ~ .scroll tbody"), codes[4].String(), "what no look can change is not asked for")
	w.lab.put(codes[0], w.recipes.methods[0].Count(41), w.recipes.methods[0])
	form := w.get(t, tech, page.attr("#again ~ .scroll tbody a", "href"))
	require.Equal(t, "41", form.attr("#eggs1", "value"))
	require.Equal(t, "2", form.attr("#ml2", "value"))
	require.Equal(t, "eggs2", form.attr("[autofocus]", "name"))
	require.Equal(t, "looked_again", form.attr("#why option[selected]", "value"))
	saved := w.post(t, tech, "/office/count", with(form.fields("form[data-preview]"), "eggs2", "35", "do", "save")...)
	require.Equal(t, http.StatusOK, saved.status)
	require.Contains(t, saved.text("#saved"), "1,900, low") // 76 eggs in 4 of 100 mL
	require.Equal(t, assay.LookedAgain, w.lab.records[0].why)
}

// The limits say where they come from, and portions what they say of each other.
func TestPortionsThatDisagree(t *testing.T) {
	w := newWorld(t)
	_, form := w.open(t, codes[0])
	agree := w.post(t, tech, "/office/count/preview", with(form, "eggs1", "40", "eggs2", "44", "ml2", "2")...)
	require.Contains(t, agree.text("body"), "the limits are exact Poisson")
	apart := w.post(t, tech, "/office/count/preview", with(form, "eggs1", "10", "eggs2", "80", "ml2", "2")...)
	require.Contains(t, apart.text("body"), "negative binomial")
	require.Contains(t, apart.text("body"), "portions differ by far more than counting explains")
	require.Contains(t, apart.text("body"), "confidence")
	few := w.post(t, tech, "/office/count/preview", with(form, "eggs1", "6")...)
	require.Contains(t, few.text("body"), "The whole bag: likely")
	eight := []string{}
	for i := range 8 {
		eight = append(eight, eggsName(i), "5", mlName(i), "2")
	}
	require.Contains(t, w.post(t, tech, "/office/count/preview", with(form, eight...)...).text("body"), "250") // 40 eggs in 16 of 100 mL
}

func TestMethods(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, tech, "/office/methods")
	require.Zero(t, page.Find("form[action='/office/methods']").Length(), "the lab looks, the coordinator adds")
	// 2 of 100 mL from 100 cm³: an egg is 50; 24 of them are 1,200; e^(-3·λ…): handbook section 3 for the step.
	require.Contains(t, page.text("tbody tr:first-child"), "100 cm³ of soil in 100 mL, 2 mL looked at")
	require.Contains(t, page.text("tbody tr:first-child"), "24 eggs: 1,200 per 100 cm³")
	form := with(w.get(t, boss, "/office/methods").fields("form:has(#name)"), "name", "own_recipe", "soil", "250", "suspension", "50", "aliquot", "1", "do", "method")
	require.Equal(t, http.StatusOK, w.post(t, boss, "/office/methods", form...).status)
	require.Equal(t, "own_recipe", w.methods.recipes[2].Name)
	bad := w.post(t, boss, "/office/methods", with(form, "name", "Own Recipe", "aliquot", "60", "soil", "x")...)
	require.Equal(t, http.StatusUnprocessableEntity, bad.status)
	require.Equal(t, 3, bad.Find(".problems li").Length())
	require.Equal(t, "Own Recipe", bad.attr("#name", "value"))

	plan := with(w.get(t, boss, "/office/methods").fields("form:has(#cups)"), "target", "1500", "keep", "5", "do", "plan")
	require.Equal(t, http.StatusOK, w.post(t, boss, "/office/methods", plan...).status)
	require.Equal(t, assay.Density(1500), w.trays.plan.Target)
	require.Equal(t, http.StatusConflict, w.post(t, boss, "/office/methods", with(plan, "cups", "24")...).status)
	require.Equal(t, http.StatusUnprocessableEntity, w.post(t, boss, "/office/methods", with(plan, "cups", "3")...).status)
	require.Equal(t, http.StatusUnprocessableEntity, w.post(t, boss, "/office/methods", with(plan, "keep", "900", "target", "-4")...).status)
}

func TestAReportedDensity(t *testing.T) {
	w := newWorld(t)
	form := with(w.get(t, tech, "/office/reported").fields("form[action='/office/reported']"), "code", codes[0].String(), "value", "5250", "unit", "per_250_cm3")
	saved := w.post(t, tech, "/office/reported", form...)
	require.Equal(t, http.StatusOK, saved.status, saved.text("main"))
	require.Contains(t, saved.text(".saved"), codes[0].String()+": 2,100, moderate") // 5,250 in 250 cm³ are 2,100 in 100
	require.Equal(t, assay.Per250CM3, w.lab.records[0].report.Unit)
	for name, bad := range map[string][]string{
		"no number": with(form, "value", "many"), "weight without density": with(form, "unit", "per_100_g"),
		"too dense": with(form, "unit", "per_100_g", "bulk", "9"), "no soil so full": with(form, "value", "9,000,000"),
		"no such bag": with(form, "code", codes[7].String()),
	} {
		got := w.post(t, tech, "/office/reported", bad...)
		require.Equal(t, http.StatusUnprocessableEntity, got.status, name)
		require.Equal(t, asMap(bad)["value"], got.attr("#value", "value"), name)
	}
	require.Equal(t, http.StatusConflict, w.post(t, tech, "/office/reported", with(form, "code", codes[1].String())...).status, "no form yet")
	again := w.post(t, tech, "/office/reported", with(form, "value", "5000")...)
	require.Equal(t, http.StatusConflict, again.status, "it has a result: why another")
	done := w.post(t, tech, "/office/reported", with(again.fields("form[action='/office/reported']"), "why", "lab_corrected")...)
	require.Equal(t, http.StatusOK, done.status, done.text("main"))
	require.Equal(t, assay.LabCorrected, w.lab.records[1].why)
	require.Equal(t, bag.Counted, w.lab.bags[codes[0]].State)
}

func TestFollowUpBags(t *testing.T) {
	w := newWorld(t)
	w.signoff.batches = []desk.Batch{{ID: desk.ID{70}, Day: today, Bags: 9, Unconfirmed: 2}}
	page := w.get(t, boss, "/office/sign-off")
	path := page.attr("form[action$=follow-up]", "action")
	require.Contains(t, page.text("form[action$=follow-up]"), "Issue 2 follow-up bags")
	done := w.post(t, boss, path)
	require.Equal(t, http.StatusSeeOther, done.status)
	require.Contains(t, w.get(t, boss, done.header.Get("Location")).text(".saved"), "2 follow-up bags issued")
	require.Zero(t, w.get(t, boss, "/office/sign-off").Find("form[action$=follow-up]").Length())
	require.Equal(t, http.StatusNotFound, w.post(t, boss, "/office/sign-off/"+idText(desk.ID{1})+"/follow-up").status)
}
