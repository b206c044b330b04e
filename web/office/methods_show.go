package office

import (
	"context"
	"errors"
	"net/http"
	"strconv"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/tray"
	"sixmile/web/shell"
)

// Methods keeps the lab's recipes.
type Methods interface {
	Recipes(ctx context.Context) ([]desk.Recipe, error)
	// AddMethod stores a new recipe, or the next version of one.
	AddMethod(ctx context.Context, r desk.Recipe) error
}

// methodsView is the page of recipes, and of how trays are filled.
type methodsView struct {
	Recipes []recipeRow
	MayKeep bool
	Fields  map[string]field
	Sieves  []choice
	Plan    map[string]field
	Refused []refusal
	Saved   string
	Problem string
	Season  string
}

// recipeRow is a recipe and what it can tell.
type recipeRow struct {
	Name, Version, Amounts, Recovery, Sieves string
	PerEgg, Missed, Sharp                    string
	Latest, Fits                             bool
}

// methodFields and planFields are the fields of the two forms, in their order.
var (
	methodFields = []string{"name", "soil", "suspension", "aliquot", "recovery", "eggs_per_cyst"}
	planFields   = []string{"cups", "blanks", "checks", "target", "keep", "recounts"}
)

func (o *office) methodsShow(w http.ResponseWriter, r *http.Request) error {
	s, err := o.season(r)
	if err != nil {
		return err
	}
	plan, err := o.Trays.Plan(r.Context(), s.Year)
	if err != nil {
		return err
	}
	typed := map[string]string{"recovery": "1", "eggs_per_cyst": strconv.Itoa(assay.DefaultEggsPerCyst),
		"cups": strconv.Itoa(plan.Cups), "blanks": strconv.Itoa(plan.Blanks), "checks": strconv.Itoa(plan.Checks),
		"keep": strconv.Itoa(plan.KeepDays), "recounts": strconv.Itoa(plan.Recounts)}
	if plan.Target > 0 {
		typed["target"] = amount(float64(plan.Target))
	}
	return o.showMethods(w, r, http.StatusOK, typed, nil, methodsView{})
}

func (o *office) showMethods(w http.ResponseWriter, r *http.Request, status int, typed, bad map[string]string, v methodsView) error {
	recipes, err := o.Methods.Recipes(r.Context())
	if err != nil {
		return err
	}
	scheme, err := o.Recipes.Scheme(r.Context())
	if err != nil {
		return err
	}
	s, err := o.season(r)
	if err != nil {
		return err
	}
	v.Season, v.MayKeep = strconv.Itoa(s.Year), shell.Staff(r).May(account.KeepRecipes)
	v.Recipes = recipeRows(o.Lang, scheme, recipes)
	v.Fields, v.Plan = map[string]field{}, map[string]field{}
	for _, name := range methodFields {
		v.Fields[name] = field{Name: name, Value: typed[name], Problem: bad[name]}
		v.Refused = append(v.Refused, refusals(v.Fields[name])...)
	}
	for _, name := range planFields {
		v.Plan[name] = field{Name: name, Value: typed[name], Problem: bad[name]}
		v.Refused = append(v.Refused, refusals(v.Plan[name])...)
	}
	v.Refused = naming(v.Refused, map[string]string{
		"name": o.Lang.Say("methods.name"), "soil": o.Lang.Say("count.soil"), "suspension": o.Lang.Say("count.water"), "aliquot": o.Lang.Say("methods.aliquot"),
		"recovery": o.Lang.Say("methods.recovery"), "eggs_per_cyst": o.Lang.Say("methods.cyst"), "cups": o.Lang.Say("methods.cups"), "blanks": o.Lang.Say("methods.blanks"),
		"checks": o.Lang.Say("methods.checks"), "target": o.Lang.Say("methods.target"), "keep": o.Lang.Say("methods.keep"), "recounts": o.Lang.Say("methods.recounts"),
	})
	for _, key := range desk.Sieves {
		v.Sieves = append(v.Sieves, choice{key, o.Lang.SayOf("methods.sieves", key), key == typed["sieves"]})
	}
	p := o.page(r, o.Lang.Say("methods.title"))
	p.Wide = true
	return shell.Render(w, r, status, methodsPage(p, v))
}

// recipeRows say of each recipe what one egg stands for, what it misses one time
// in twenty, and from where on its limits lie within half.
func recipeRows(l *catalog.Lang, s assay.Scheme, recipes []desk.Recipe) []recipeRow {
	newest := map[string]int{}
	for _, r := range recipes {
		newest[r.Name] = max(newest[r.Name], r.Version)
	}
	var out []recipeRow
	for _, r := range recipes {
		m := r.Method
		row := recipeRow{
			Name: methodName(l, m), Version: strconv.Itoa(m.Version), Latest: newest[m.Name] == m.Version, Fits: s.Fits(m),
			Amounts:  l.Say("methods.amounts", "soil", amount(m.SoilCM3), "water", amount(m.SuspensionML), "ml", amount(m.AliquotML)),
			Recovery: percent(m.Recovery), PerEgg: eggs(l, float64(m.PerEgg())), Missed: eggs(l, float64(m.MissedOneInTwenty())),
			Sharp: l.Say("methods.sharp", "eggs", m.SmallestWithinHalf(), "density", eggs(l, float64(m.SmallestWithinHalf())*float64(m.PerEgg()))),
		}
		if r.Sieves != "" {
			row.Sieves = l.SayOf("methods.sieves", r.Sieves)
		}
		out = append(out, row)
	}
	return out
}

// methodsPost adds a recipe, or says how trays are filled.
func (o *office) methodsPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	typed := map[string]string{"sieves": line(form, "sieves")}
	for _, name := range append(append([]string(nil), methodFields...), planFields...) {
		typed[name] = line(form, name)
	}
	if form.Get("do") == "plan" {
		return o.planPost(w, r, typed)
	}
	recipe, bad := readRecipe(o.Lang, typed)
	if len(bad) > 0 {
		return o.showMethods(w, r, http.StatusUnprocessableEntity, typed, bad, methodsView{})
	}
	if err := o.Methods.AddMethod(r.Context(), recipe); err != nil {
		return err
	}
	o.Log.Info("method added")
	return o.showMethods(w, r, http.StatusOK, typed, nil, methodsView{Saved: o.Lang.Say("methods.saved", "name", recipe.Name)})
}

// readRecipe reads a recipe, with what is wrong with it by field.
func readRecipe(l *catalog.Lang, typed map[string]string) (desk.Recipe, map[string]string) {
	bad := map[string]string{}
	number := func(name string) float64 {
		v, err := assay.ParseNumber(typed[name])
		if err != nil {
			bad[name] = l.Say("methods.problem.number")
		}
		return v
	}
	r := desk.Recipe{Method: assay.Method{
		Name: typed["name"], Version: 1, SoilCM3: number("soil"), SuspensionML: number("suspension"), AliquotML: number("aliquot"),
		Recovery: number("recovery"), EggsPerCyst: number("eggs_per_cyst"),
	}, Sieves: typed["sieves"]}
	if !desk.KnownSieves(r.Sieves) {
		r.Sieves = ""
	}
	var invalid *assay.Invalid
	if errors.As(r.Check(), &invalid) {
		for name, p := range invalid.Fields {
			if _, there := bad[name]; !there {
				bad[name] = l.SayOf("methods.problem", string(p))
			}
		}
	}
	return r, bad
}

func (o *office) planPost(w http.ResponseWriter, r *http.Request, typed map[string]string) error {
	s, err := o.season(r)
	if err != nil {
		return err
	}
	bad := map[string]string{}
	whole := func(name string, most int) int {
		n, err := assay.ParseEggs(typed[name])
		if err != nil || n > most {
			bad[name] = o.Lang.Say("methods.problem.upto", "most", most)
		}
		return n
	}
	p := desk.TrayPlan{Season: s.Year, KeepDays: whole("keep", 60), Recounts: whole("recounts", 500),
		Plan: tray.Plan{Cups: whole("cups", tray.MaxCups), Blanks: whole("blanks", tray.MaxCups), Checks: whole("checks", tray.MaxCups)}}
	if typed["target"] != "" {
		v, err := assay.ParseNumber(typed["target"])
		if err != nil || v <= 0 || v > float64(assay.MaxDensity) {
			bad["target"] = o.Lang.Say("methods.problem.number")
		}
		p.Target = assay.Density(v)
	}
	if len(bad) == 0 && p.Valid() != nil {
		bad["cups"] = o.Lang.Say("methods.problem.cups", "least", tray.MinSamples)
	}
	if len(bad) > 0 {
		return o.showMethods(w, r, http.StatusUnprocessableEntity, typed, bad, methodsView{})
	}
	err = o.Trays.SetPlan(r.Context(), p)
	if errors.Is(err, fault.ErrConflict) {
		return o.showMethods(w, r, http.StatusConflict, typed, map[string]string{"cups": o.Lang.Say("methods.problem.laid")}, methodsView{})
	}
	if err != nil {
		return err
	}
	return o.showMethods(w, r, http.StatusOK, typed, nil, methodsView{Saved: o.Lang.Say("methods.plan.saved")})
}
