package office

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// Lab finds bags and records counts.
type Lab interface {
	Find(ctx context.Context, code bag.Code) (desk.LabBag, error)
	// Record: fault.ErrConflict when the standing result is not the one that is
	// to be replaced, fault.ErrNotFound for no such bag, or no form for it.
	Record(ctx context.Context, k desk.Keyed, by account.ID) error
}

// fieldOrder is the order of the count form's fields on the page.
var fieldOrder = func() []string {
	var out []string
	for i := range portions {
		out = append(out, eggsName(i), mlName(i))
	}
	out = slices.Insert(out, 2, "why")
	return append(out, "soil", "water")
}()

// countView is the count page: the field for the next bag, and the bag under
// the microscope, if there is one.
type countView struct {
	Find   field
	Saved  string // the last bag's result in one line
	Stop   string // why the bag found takes no count
	Method string // carried from bag to bag

	Bag     *bagView
	Reading readingView
}

// bagView is the form of one bag's count.
type bagView struct {
	Code     bag.Code
	State    bag.State
	Typed    typedCount
	Fields   map[string]field
	Methods  []methodChoice
	Standing string // the result that stands, in one line; empty for none
	Signed   bool   // and its sender has read it
	Whys     []choice
	Released bool   // it is on the map
	Conflict string // somebody else was faster
	Changed  bool   // another recipe was chosen: its amounts were filled in
	Refused  []refusal
	Focus    string // the field that the keyboard starts in
}

type methodChoice struct {
	Key, Name string
	Chosen    bool
}

// lab is what every count page needs.
type lab struct {
	methods []assay.Method
	scheme  assay.Scheme
}

func (o *office) lab(ctx context.Context) (lab, error) {
	methods, err := o.Recipes.Methods(ctx)
	if err != nil {
		return lab{}, err
	}
	if len(methods) == 0 {
		return lab{}, errors.New("the program has no method to count by")
	}
	scheme, err := o.Recipes.Scheme(ctx)
	return lab{methods, scheme}, err
}

// countFind is the page with nothing but the field for a code; asked for another
// look at a bag, it is that bag's form.
func (o *office) countFind(w http.ResponseWriter, r *http.Request) error {
	if code := line(r.URL.Query(), "again"); code != "" {
		return o.openBag(w, r, code, "", true)
	}
	return o.showCount(w, r, http.StatusOK, countView{Find: field{Name: "find"}})
}

func (o *office) showCount(w http.ResponseWriter, r *http.Request, status int, v countView) error {
	p := o.page(r, o.Lang.Say("count.title"))
	p.Scripts = []string{"count.js"}
	if v.Bag != nil {
		p.Title = o.Lang.Say("count.title.bag", "code", v.Bag.Code.String())
		p.Wide = true
	}
	return shell.Render(w, r, status, countPage(p, v))
}

// openBag shows the form of the bag whose code was scanned.
// With again it holds what was counted before, for another look to be added.
func (o *office) openBag(w http.ResponseWriter, r *http.Request, typed, method string, again bool) error {
	refuse := func(problem string) error {
		return o.showCount(w, r, http.StatusUnprocessableEntity,
			countView{Method: method, Find: field{Name: "find", Value: typed, Problem: problem}})
	}
	code, err := bag.Parse(scanned(typed))
	if err != nil {
		return refuse(codeProblem(o.Lang, err))
	}
	b, err := o.Lab.Find(r.Context(), code)
	if errors.Is(err, fault.ErrNotFound) {
		return refuse(o.Lang.Say("count.find.unknown", "code", code.String()))
	}
	if err != nil {
		return err
	}
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	v := countView{Method: method, Find: field{Name: "find"}}
	if v.Stop = stop(o.Lang, b); v.Stop == "" {
		m, _ := findMethod(l.methods, method)
		t := prefilled(code, m)
		if again && len(b.Count.Aliquots) > 0 && len(b.Count.Aliquots) < portions {
			t = lookedAgain(t, b)
		}
		t.Replaces = idText(b.Head)
		v.Bag = newBagView(o.Lang, l, b, t, nil)
		v.Reading = readingView{Missing: o.Lang.Say("count.reading.waiting")}
	}
	return o.showCount(w, r, http.StatusOK, v)
}

// lookedAgain is a form with the portions of the count that stands, ready for one
// more.
func lookedAgain(t typedCount, b desk.LabBag) typedCount {
	t.Method, t.Why = methodKey(b.Method), string(assay.LookedAgain)
	t.As, t.Soil, t.Water = t.Method, amount(b.Count.SoilCM3), amount(b.Count.SuspensionML)
	t.Cyst, t.Juvenile = b.Count.CystSeen, b.Count.JuvenilesSeen
	for i, a := range b.Count.Aliquots {
		t.ML[i], t.Eggs[i] = amount(a.ML), strconv.Itoa(a.Eggs)
	}
	t.ML[len(b.Count.Aliquots)] = t.ML[0]
	return t
}

// stop says why a bag takes no count; empty when it takes one.
func stop(l *catalog.Lang, b desk.LabBag) string {
	switch {
	case b.State == bag.Void:
		return l.Say("count.stop.void", "code", b.Code.String())
	case !b.HasForm:
		return l.Say("count.stop.noform", "code", b.Code.String())
	}
	return ""
}

func newBagView(l *catalog.Lang, lb lab, b desk.LabBag, t typedCount, bad map[string]assay.Problem) *bagView {
	v := &bagView{Code: b.Code, State: b.State, Typed: t, Released: b.State == bag.Released, Fields: map[string]field{}}
	if b.Head != (desk.ID{}) {
		v.Standing, v.Signed = resultLine(l, lb.scheme, b.Code, b.Reading), b.Signed
		v.Whys = corrections(l, t.Why)
	}
	values := map[string]string{"soil": t.Soil, "water": t.Water}
	for i := range portions {
		values[mlName(i)], values[eggsName(i)] = t.ML[i], t.Eggs[i]
	}
	var inOrder []field
	for _, name := range fieldOrder {
		f := field{Name: name, Value: values[name]}
		if p, there := bad[name]; there {
			f.Problem = problemText(l, name, p)
		}
		v.Fields[name] = f
		inOrder = append(inOrder, f)
	}
	v.Refused = refusals(inOrder...)
	v.Focus = eggsName(0)
	if t.Why == string(assay.LookedAgain) {
		for i := range portions {
			if t.ML[i] != "" && t.Eggs[i] == "" {
				v.Focus = eggsName(i)
			}
		}
	}
	if len(v.Refused) > 0 {
		v.Focus = v.Refused[0].ID
	}
	for _, m := range lb.methods {
		v.Methods = append(v.Methods, methodChoice{methodKey(m), methodName(l, m), methodKey(m) == t.Method})
	}
	return v
}

// corrections are the reasons to pick from for a result that replaces another.
func corrections(l *catalog.Lang, chosen string) []choice {
	var out []choice
	for _, c := range assay.Corrections() {
		out = append(out, choice{string(c), l.SayOf("correction", string(c)), string(c) == chosen})
	}
	return out
}

// methodName is a recipe's name in words, or its key where the office added one.
func methodName(l *catalog.Lang, m assay.Method) string {
	if l.Has("count.method." + m.Name) {
		return l.SayOf("count.method", m.Name)
	}
	return m.Name
}

// more tells whether portions after the first are in use, so that the page
// shows them.
func more(b *bagView) bool {
	for i := 1; i < portions; i++ {
		if b.Typed.ML[i] != "" || b.Typed.Eggs[i] != "" {
			return true
		}
	}
	return false
}
