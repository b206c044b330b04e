package office

import (
	"errors"
	"net/url"
	"strconv"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/plan"
)

// planTyped is the form as typed.
type planTyped struct {
	season, bags, least, back, reach string
	weights                          [plan.NumAims]string
	acres                            map[place.ID]string // host acres by county; empty: by area
}

// planAsked is what a form that was read asks for.
type planAsked struct {
	season int
	ask    plan.Ask
	acres  map[place.ID]int
}

// The names of the two ways bags reach townships.
const (
	reachCome  = "come"
	reachAsked = "asked"
)

// startBags and startLeast are what the form starts with when no plan was saved.
const startBags, startLeast = 1000, 10

// startTyped is the form before anybody types: as the last saved plan had it.
func startTyped(f planFacts) planTyped {
	t := planTyped{
		season: strconv.Itoa(f.seasons[0]), bags: strconv.Itoa(startBags), least: strconv.Itoa(startLeast),
		back: strconv.Itoa(f.back), reach: reachCome,
	}
	w := plan.UsualWeights()
	if len(f.list) > 0 {
		last := f.list[0]
		t.bags, t.least, w = strconv.Itoa(last.Ask.Bags), strconv.Itoa(last.Ask.Least), last.Ask.Weights
		if last.Ask.Reach == plan.AsSuggested {
			t.reach = reachAsked
		}
	}
	for i := range w {
		t.weights[i] = strconv.Itoa(int(w[i]))
	}
	return t
}

func weightName(a plan.Aim) string { return "weight-" + a.String() }

func acresName(c place.ID) string { return "acres-" + strconv.Itoa(int(c)) }

func readPlanTyped(form url.Values, f planFacts) planTyped {
	t := planTyped{
		season: line(form, "season"), bags: line(form, "bags"), least: line(form, "least"), back: line(form, "back"),
		reach: line(form, "reach"), acres: map[place.ID]string{},
	}
	for _, a := range plan.Aims() {
		t.weights[a] = line(form, weightName(a))
	}
	for _, c := range f.counties {
		if typed := line(form, acresName(c.ID)); typed != "" {
			t.acres[c.ID] = typed
		}
	}
	return t
}

// mostAcres is more than any county has.
const mostAcres = 20_000_000

// readPlan reads the form; the sentences of bad are by field.
func readPlan(l *catalog.Lang, t planTyped, f planFacts) (out planAsked, bad map[string]string) {
	bad = map[string]string{}
	whole := func(name, typed string, low, high int, key string, args ...any) int {
		n, err := assay.ParseEggs(typed) // a whole number, typed the same way
		if err != nil || n < low || n > high {
			bad[name] = l.Say(key, args...)
		}
		return n
	}
	for _, s := range f.seasons {
		if strconv.Itoa(s) == t.season {
			out.season = s
		}
	}
	if out.season == 0 {
		bad["season"] = l.Say("lots.problem.season")
	}
	out.ask.Bags = whole("bags", t.bags, 1, plan.MaxBags, "plan.problem.bags", "most", plan.MaxBags)
	out.ask.Least = whole("least", t.least, 0, plan.MaxBags, "plan.problem.least", "counties", len(f.counties))
	out.ask.Return = float64(whole("back", t.back, 1, 100, "plan.problem.return")) / 100
	for _, a := range plan.Aims() {
		out.ask.Weights[a] = float64(whole(weightName(a), t.weights[a], 0, 100, "plan.problem.weights"))
	}
	switch t.reach {
	case reachCome:
	case reachAsked:
		out.ask.Reach = plan.AsSuggested
	default:
		bad["reach"] = l.Say("plan.problem.reach")
	}
	out.acres = map[place.ID]int{}
	for c, typed := range t.acres {
		out.acres[c] = whole(acresName(c), typed, 0, mostAcres, "plan.problem.acres")
	}
	if len(bad) > 0 {
		return out, bad
	}
	var invalid *fault.Invalid
	if errors.As(out.ask.Check(len(f.counties)), &invalid) {
		for name, p := range invalid.Fields {
			if name == plan.FieldWeights {
				name = weightName(plan.Finds)
			}
			if name == plan.FieldReturn {
				name = "back"
			}
			bad[name] = l.SayOf("plan", p.Key[len("plan."):], p.Args...)
		}
	}
	return out, bad
}

// newPlanForm is the page with its form and no result yet.
func newPlanForm(l *catalog.Lang, f planFacts, t planTyped, bad map[string]string) planView {
	e := f.index.Issue.Edition
	v := planView{
		From:   l.Say("plan.from", "month", l.MonthYear(e.Released), "code", e.Code),
		Season: field{"season", t.season, bad["season"]}, Bags: field{"bags", t.bags, bad["bags"]},
		Least: field{"least", t.least, bad["least"]}, Back: field{"back", t.back, bad["back"]},
		Reach: field{"reach", t.reach, bad["reach"]}, BackHint: l.Say("plan.back.none"),
	}
	if f.backOf != 0 {
		v.BackHint = l.Say("plan.back.hint", "year", strconv.Itoa(f.backOf), "share", strconv.Itoa(f.back))
	}
	for _, s := range f.seasons {
		year := strconv.Itoa(s)
		v.Seasons = append(v.Seasons, choice{year, year, year == t.season})
	}
	fields := []field{v.Season, v.Bags, v.Least, v.Back}
	for _, a := range plan.Aims() {
		in := field{weightName(a), t.weights[a], bad[weightName(a)]}
		v.Weights = append(v.Weights, planWeight{in, l.SayOf("plan.aim", a.String()), l.SayOf("plan.aim.hint", a.String())})
		fields = append(fields, in)
	}
	fields = append(fields, v.Reach)
	for _, c := range f.counties {
		in := field{acresName(c.ID), t.acres[c.ID], bad[acresName(c.ID)]}
		v.Acres = append(v.Acres, planAcres{in, c.Label()})
		fields = append(fields, in)
		v.AcresOpen = v.AcresOpen || in.Value != ""
	}
	labels := map[string]string{}
	for _, w := range v.Weights {
		labels[w.field.Name] = w.Name
	}
	for _, a := range v.Acres {
		labels[a.field.Name] = a.Name
	}
	v.Refused = naming(refusals(fields...), labels)
	for _, p := range f.list {
		v.Saved = append(v.Saved, savedRow(l, p))
	}
	if f.index.Issue.Edition.Number > 0 {
		if e, err := f.index.Edge(); err == nil && e.Surface == nil {
			v.Thin = true
		}
	}
	return v
}

// savedRow is a saved plan in the list.
func savedRow(l *catalog.Lang, p plan.Saved) planSaved {
	return planSaved{
		Path: planPath(p.No), Season: strconv.Itoa(p.Season), Day: l.Date(p.Day), Bags: l.Number(p.Ask.Bags),
		Expected: oneDecimal(p.Total[plan.Finds]),
	}
}
