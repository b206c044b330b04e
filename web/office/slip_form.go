package office

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// Slips keys what came without a form.
type Slips interface {
	// KeySlip: fault.ErrNotFound for no such bag, fault.ErrConflict when a form or
	// a slip for it is there.
	KeySlip(ctx context.Context, v sample.Visit, today time.Time) error
	// Assume: the same, and fault.ErrNotFound too when the soil has not come.
	Assume(ctx context.Context, code bag.Code) error
}

// slipView is the form of a paper slip.
type slipView struct {
	Token     string
	Fields    map[string]field
	Counties  []choice
	Places    []placeGroup
	Questions []question
	Standings []choice
	Refused   []refusal
	Saved     string
	Problem   string
}

// placeGroup is the townships of one county.
type placeGroup struct {
	County string
	Towns  []choice
}

// question is one of the closed questions of the form.
type question struct {
	Field   field
	Label   string
	Choices []choice
}

// slipFields are the names of the form's fields, in their order.
var slipFields = []string{"code", "county", "township", "day"}

// slipQuestions are the closed questions, with their choices: those of the
// grower's own form.
var slipQuestions = []struct {
	name    string
	choices []string
}{
	{"harvest", sample.Harvests}, {"crop", sample.Crops}, {"next_crop", sample.Crops}, {"resistance", sample.Resistances},
	{"crop_before", sample.Crops}, {"crop_two", sample.Crops}, {"tillage", sample.Tillages}, {"texture", sample.Textures},
	{"ph", sample.PHs}, {"acres", sample.Acreses},
}

func (o *office) slipForm(w http.ResponseWriter, r *http.Request) error {
	return o.showSlip(w, r, http.StatusOK, slipTyped{"code": line(r.URL.Query(), "code")}, nil, "", "")
}

// slipTyped is a slip as it was keyed.
type slipTyped map[string]string

// form is the slip as the grower's form has it: one bag of one grower.
func (t slipTyped) form(token string) sample.Form {
	return sample.Form{Token: token, Standings: []string{t["standing"]}, Bags: []sample.FormBag{{
		Code: scanned(t["code"]), County: t["county"], Township: t["township"], Day: t["day"], Harvest: t["harvest"], Crop: t["crop"],
		NextCrop: t["next_crop"], Resistance: t["resistance"], CropBefore: t["crop_before"], CropTwo: t["crop_two"],
		Tillage: t["tillage"], Texture: t["texture"], PH: t["ph"], Acres: t["acres"],
	}}}
}

func (o *office) showSlip(w http.ResponseWriter, r *http.Request, status int, t slipTyped, bad *fault.Invalid, saved, problem string) error {
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	token, err := sample.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	v := newSlipView(o.Lang, places, t, bad)
	v.Token, v.Saved, v.Problem = token.String(), saved, problem
	p := o.page(r, o.Lang.Say("slip.title"))
	p.Scripts = []string{"count.js"}
	return shell.Render(w, r, status, slipPage(p, v))
}

func newSlipView(l *catalog.Lang, places []place.Place, t slipTyped, bad *fault.Invalid) slipView {
	v := slipView{Fields: map[string]field{}}
	problem := func(name string) string {
		if bad == nil {
			return ""
		}
		p, there := bad.Fields[sample.Field(0, name)]
		if !there {
			return ""
		}
		return l.Say(p.Key, p.Args...)
	}
	for _, name := range slipFields {
		f := field{Name: name, Value: t[name], Problem: problem(name)}
		v.Fields[name] = f
		v.Refused = append(v.Refused, refusals(f)...)
	}
	for _, c := range counties(places) {
		id := strconv.Itoa(int(c.ID))
		v.Counties = append(v.Counties, choice{id, c.Label(), id == t["county"]})
		v.Places = append(v.Places, placeGroup{c.Label(), towns(places, c.ID, t["township"])})
	}
	for _, q := range slipQuestions {
		f := field{Name: q.name, Value: t[q.name], Problem: problem(q.name)}
		ask := question{Field: f, Label: l.SayOf("slip.ask", q.name)}
		for _, c := range q.choices {
			ask.Choices = append(ask.Choices, choice{c, l.SayOf("choice", c), c == t[q.name]})
		}
		v.Questions = append(v.Questions, ask)
		v.Refused = append(v.Refused, refusals(f)...)
	}
	for _, s := range []string{"", "first", "earlier"} {
		key := s
		if s == "" {
			key = "already"
		}
		v.Standings = append(v.Standings, choice{s, l.SayOf("slip.standing", key), s == t["standing"]})
	}
	return v
}

func towns(places []place.Place, county place.ID, chosen string) []choice {
	var out []choice
	for _, p := range places {
		if p.Kind == place.Township && p.County == county {
			id := strconv.Itoa(int(p.ID))
			out = append(out, choice{id, p.Label(), id == chosen})
		}
	}
	slices.SortFunc(out, func(a, b choice) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// slipPost stores a slip, or takes a bag with neither for the county of its lot.
func (o *office) slipPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	t := slipTyped{"standing": line(form, "standing")}
	for _, name := range slipFields {
		t[name] = line(form, name)
	}
	for _, q := range slipQuestions {
		t[q.name] = line(form, q.name)
	}
	if form.Get("do") == "assume" {
		return o.assume(w, r, t)
	}
	ground, err := o.ground(r.Context())
	if err != nil {
		return err
	}
	visit, err := sample.NewVisit(t.form(line(form, "token")), ground)
	var bad *fault.Invalid
	if errors.As(err, &bad) {
		return o.showSlip(w, r, http.StatusUnprocessableEntity, t, bad, "", "")
	}
	if err != nil {
		return err
	}
	code := visit.Senders[0].Bags[0].Code
	return o.slipStored(w, r, t, code, "slip.saved", o.Slips.KeySlip(r.Context(), visit, o.Today()))
}

func (o *office) assume(w http.ResponseWriter, r *http.Request, t slipTyped) error {
	code, err := bag.Parse(scanned(t["code"]))
	if err != nil {
		bad := &fault.Invalid{}
		bad.Add(sample.Field(0, "code"), "slip.code")
		return o.showSlip(w, r, http.StatusUnprocessableEntity, t, bad, "", codeProblem(o.Lang, err))
	}
	return o.slipStored(w, r, t, code, "slip.assumed", o.Slips.Assume(r.Context(), code))
}

// slipStored says what became of it; where it could not be stored all that was
// keyed stays.
func (o *office) slipStored(w http.ResponseWriter, r *http.Request, t slipTyped, code bag.Code, saved string, err error) error {
	switch {
	case errors.Is(err, fault.ErrNotFound):
		return o.showSlip(w, r, http.StatusUnprocessableEntity, t, nil, "", o.Lang.Say("slip.unknown", "code", code.String()))
	case errors.Is(err, fault.ErrConflict):
		return o.showSlip(w, r, http.StatusConflict, t, nil, "", o.Lang.Say("slip.there", "code", code.String()))
	case err != nil:
		return err
	}
	// The next slip is often of the same county and day.
	return o.showSlip(w, r, http.StatusOK, slipTyped{"county": t["county"], "day": t["day"]}, nil, o.Lang.Say(saved, "code", code.String()), "")
}

// ground is what the form's rules need to know.
func (o *office) ground(ctx context.Context) (sample.Ground, error) {
	places, err := o.Program.Places(ctx)
	if err != nil {
		return sample.Ground{}, err
	}
	seasons, err := o.Program.Seasons(ctx)
	if err != nil {
		return sample.Ground{}, err
	}
	g := newGazetteer(places)
	return sample.Ground{Today: o.Today(), Seasons: seasons, Places: func(id place.ID) (place.Place, bool) {
		p, ok := g[id]
		return p, ok
	}}, nil
}
