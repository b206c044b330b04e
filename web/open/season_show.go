package open

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
	"sixmile/web/shell"
)

// seasonForm is what stands in the page's address.
type seasonForm struct {
	Plant, End string // dates as 2026-05-20
	Normal     string // key of one of lookahead.Normals
	Typed      [lookahead.SeasonMonths]string
	Problems   map[string]fault.Problem
}

// seasonView is everything the season strip shows. Without a strip there is the
// form alone.
type seasonView struct {
	Form   seasonForm
	Months [lookahead.SeasonMonths]seasonMonth
	Strip  *seasonStrip
}

// seasonMonth is a month's field: its name, and what stands there when nothing
// is typed.
type seasonMonth struct{ Field, Name, Normal, Typed string }

// seasonStrip is one worked-out season in words and as a drawing.
type seasonStrip struct {
	Females, Generations string
	Rows                 []seasonRow
	Chart                seasonChart
	Year                 string
	DegreeDays           int
}

// seasonRow is a thing that happens, with its days.
type seasonRow struct{ What, First, Usual, Last string }

// season works out when females show and how many generations there are.
func (k look) season(w http.ResponseWriter, r *http.Request) error {
	form := readSeason(r.URL.Query(), k.Today())
	v := seasonView{Form: form}
	status := http.StatusOK
	plant, end, means := v.Form.check(k.Today())
	if len(v.Form.Problems) == 0 {
		s, err := lookahead.Season(plant, end, means)
		if err != nil {
			if !errors.Is(err, lookahead.ErrImpossible) {
				return err
			}
			v.Form.Problems = map[string]fault.Problem{"end": {Key: "season.problem.order"}}
		} else {
			v.Strip = stripOf(k.Lang, s)
		}
	}
	if len(v.Form.Problems) > 0 {
		status = http.StatusUnprocessableEntity
	}
	v.Months = monthsOf(k.Lang, v.Form)
	return shell.Render(w, r, status, seasonPage(k.page(k.Lang.Say("season.title")), v))
}

// readSeason reads the address; what it does not say is the northern edge, from
// late May to the middle of September of the coming season.
func readSeason(q url.Values, today time.Time) seasonForm {
	get := func(name, other string) string {
		s := strings.TrimSpace(strings.ToValidUTF8(q.Get(name), ""))
		if len(s) > longestTyped {
			s = strings.ToValidUTF8(s[:longestTyped], "")
		}
		if s == "" && !q.Has(name) {
			return other
		}
		return s
	}
	year := today.Year()
	if today.Month() > time.September {
		year++
	}
	y := strconv.Itoa(year)
	f := seasonForm{Plant: get("plant", y+"-05-25"), End: get("end", y+"-09-15"), Normal: get("normal", lookahead.Normals[0].Key)}
	for i := range f.Typed {
		f.Typed[i] = get(monthField(i), "")
	}
	return f
}

func monthField(i int) string { return "t" + strconv.Itoa(int(lookahead.FirstMonth)+i) }

// check works out dates and temperatures; the form's Problems say what cannot be.
func (f *seasonForm) check(today time.Time) (plant, end time.Time, means [lookahead.SeasonMonths]float64) {
	bad := &fault.Invalid{}
	day := func(field, typed string) time.Time {
		d, err := time.Parse(time.DateOnly, typed)
		switch {
		case err != nil:
			bad.Add(field, "season.problem.day")
		case d.Year() < today.Year()-20 || d.Year() > today.Year()+5:
			bad.Add(field, "season.problem.year")
		case d.Month() < lookahead.FirstMonth || d.Month() > lookahead.LastMonth:
			bad.Add(field, "season.problem.month")
		}
		return d
	}
	plant, end = day("plant", f.Plant), day("end", f.End)
	found := false
	for _, n := range lookahead.Normals {
		if n.Key == f.Normal {
			means, found = n.Means, true
		}
	}
	if !found {
		bad.Add("normal", "season.problem.normal")
	}
	for i, typed := range f.Typed {
		if typed == "" {
			continue
		}
		v, err := assay.ParseNumber(typed)
		if err != nil || v > 110 {
			bad.Add(monthField(i), "season.problem.degrees")
		}
		means[i] = v
	}
	if len(bad.Fields) == 0 && (plant.Year() != end.Year() || !plant.Before(end)) {
		bad.Add("end", "season.problem.order")
	}
	f.Problems = bad.Fields
	return plant, end, means
}

func monthsOf(l *catalog.Lang, f seasonForm) (out [lookahead.SeasonMonths]seasonMonth) {
	means := lookahead.Normals[0].Means
	for _, n := range lookahead.Normals {
		if n.Key == f.Normal {
			means = n.Means
		}
	}
	for i := range out {
		month := lookahead.FirstMonth + time.Month(i)
		out[i] = seasonMonth{monthField(i), l.SayOf("date.month", strings.ToLower(month.String())), plainNumber(means[i]), f.Typed[i]}
	}
	return out
}

// shortDay is a day without its year.
func shortDay(l *catalog.Lang, t time.Time) string {
	return l.Say("season.day", "month", l.SayOf("date.month", strings.ToLower(t.Month().String())), "day", strconv.Itoa(t.Day()))
}

// stripOf puts a season into words.
func stripOf(l *catalog.Lang, s lookahead.Strip) *seasonStrip {
	day := func(t time.Time) string {
		if t.IsZero() {
			return l.Say("season.notbefore", "day", shortDay(l, s.End))
		}
		return shortDay(l, t)
	}
	out := &seasonStrip{Year: strconv.Itoa(s.Plant.Year()), DegreeDays: whole(s.Total)}
	switch {
	case s.ShowsFirst.IsZero():
		out.Females = l.Say("season.females.none", "day", shortDay(l, s.End))
	case s.Shows.IsZero() || s.ShowsLast.IsZero():
		out.Females = l.Say("season.females.late", "first", shortDay(l, s.ShowsFirst))
	default:
		out.Females = l.Say("season.females", "usual", shortDay(l, s.Shows), "first", shortDay(l, s.ShowsFirst), "last", shortDay(l, s.ShowsLast))
	}
	if s.Fewest == s.Most {
		out.Generations = l.Count("season.generations", s.Most, "day", shortDay(l, s.End))
	} else {
		out.Generations = l.Count("season.generations.between", s.Most, "low", s.Fewest, "day", shortDay(l, s.End))
	}
	out.Rows = []seasonRow{
		{What: l.Say("season.row.plant"), Usual: shortDay(l, s.Plant)},
		{l.Say("season.row.females"), day(s.ShowsFirst), day(s.Shows), day(s.ShowsLast)},
	}
	for i, t := range s.Turns {
		out.Rows = append(out.Rows, seasonRow{What: l.Say("season.row.generation", "n", i+1), Usual: shortDay(l, t)})
	}
	out.Rows = append(out.Rows, seasonRow{What: l.Say("season.row.end"), Usual: shortDay(l, s.End)})
	out.Chart = seasonChartOf(l, s)
	return out
}

// wrong tells whether a field has a problem.
func (f seasonForm) wrong(field string) bool { _, there := f.Problems[field]; return there }

// problemFields are the fields with problems in their order on the page.
func (f seasonForm) problemFields() (out []string) {
	order := []string{"plant", "end", "normal"}
	for i := range f.Typed {
		order = append(order, monthField(i))
	}
	for _, name := range order {
		if f.wrong(name) {
			out = append(out, name)
		}
	}
	return out
}
