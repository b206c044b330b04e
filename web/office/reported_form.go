package office

import (
	"errors"
	"net/http"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// reportedView is the form of a density that another lab reported.
type reportedView struct {
	Code, Value, Bulk field
	Units, Methods    []choice
	Cyst, Juvenile    bool
	Replaces          string
	Standing          string
	Why               field
	Whys              []choice
	Refused           []refusal
	Saved             string
}

// reported is the form as it was typed.
type reported struct {
	code, value, unit, bulk, method, replaces, why string
	cyst, juvenile                                 bool
}

func (o *office) reportedForm(w http.ResponseWriter, r *http.Request) error {
	return o.showReported(w, r, http.StatusOK, reported{code: line(r.URL.Query(), "code"), unit: assay.Per100CM3.String()}, nil, desk.LabBag{}, "")
}

func (o *office) showReported(w http.ResponseWriter, r *http.Request, status int, t reported, bad map[string]string, b desk.LabBag, saved string) error {
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	v := reportedView{
		Code: field{"code", t.code, bad["code"]}, Value: field{"value", t.value, bad["value"]}, Bulk: field{"bulk", t.bulk, bad["bulk"]},
		Cyst: t.cyst, Juvenile: t.juvenile, Why: field{"why", t.why, bad["why"]}, Saved: saved, Whys: corrections(o.Lang, t.why),
	}
	for _, u := range assay.Units() {
		v.Units = append(v.Units, choice{u.String(), o.Lang.SayOf("unit", u.String()), u.String() == t.unit})
	}
	for _, m := range l.methods {
		v.Methods = append(v.Methods, choice{methodKey(m), methodName(o.Lang, m), methodKey(m) == t.method})
	}
	if b.Head != (desk.ID{}) {
		v.Replaces, v.Standing = idText(b.Head), resultLine(o.Lang, l.scheme, b.Code, b.Reading)
	}
	v.Refused = refusals(v.Code, v.Value, v.Bulk, v.Why)
	p := o.page(r, o.Lang.Say("reported.title"))
	p.Scripts = []string{"count.js"}
	return shell.Render(w, r, status, reportedPage(p, v))
}

func (o *office) reportedPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	t := reported{code: line(form, "code"), value: line(form, "value"), unit: line(form, "unit"), bulk: line(form, "bulk"),
		method: line(form, "method"), replaces: line(form, "replaces"), why: line(form, "why"), cyst: form.Has("cyst"), juvenile: form.Has("juvenile")}
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	k, bad := readReported(o.Lang, l, t)
	if len(bad) > 0 {
		return o.showReported(w, r, http.StatusUnprocessableEntity, t, bad, desk.LabBag{}, "")
	}
	b, err := o.Lab.Find(r.Context(), k.Code)
	if errors.Is(err, fault.ErrNotFound) {
		return o.showReported(w, r, http.StatusUnprocessableEntity, t, map[string]string{"code": o.Lang.Say("count.find.unknown", "code", k.Code.String())}, b, "")
	}
	if err != nil {
		return err
	}
	if why := stop(o.Lang, b); why != "" {
		return o.showReported(w, r, http.StatusConflict, t, map[string]string{"code": why}, b, "")
	}
	if k.Replaces != b.Head || b.Head != (desk.ID{}) && k.Why == "" {
		return o.showReported(w, r, http.StatusConflict, t, map[string]string{"why": o.Lang.Say("count.problem.missing.why")}, b, "")
	}
	k.Day = o.Today()
	if err := o.Lab.Record(r.Context(), k, shell.Staff(r).ID); err != nil {
		return err // a conflict: somebody was faster by a moment
	}
	reading, err := k.Reading()
	if err != nil {
		return err
	}
	next := reported{unit: t.unit, bulk: t.bulk, method: t.method}
	return o.showReported(w, r, http.StatusOK, next, nil, desk.LabBag{}, o.Lang.Say("count.saved")+resultLine(o.Lang, l.scheme, k.Code, reading))
}

// readReported reads the form, with what is wrong with it by field.
func readReported(l *catalog.Lang, lb lab, t reported) (desk.Keyed, map[string]string) {
	bad := map[string]string{}
	code, err := bag.Parse(scanned(t.code))
	if err != nil {
		bad["code"] = codeProblem(l, err)
	}
	k := desk.Keyed{Code: code, Report: assay.Report{CystSeen: t.cyst, JuvenilesSeen: t.juvenile}}
	k.Method, _ = findMethod(lb.methods, t.method)
	if k.Report.Value, err = assay.ParseNumber(t.value); err != nil {
		bad["value"] = l.Say("methods.problem.number")
	}
	if k.Report.Unit, err = assay.ParseUnit(t.unit); err != nil {
		k.Report.Unit = assay.Per100CM3
	}
	if t.bulk != "" {
		if k.Report.BulkDensity, err = assay.ParseNumber(t.bulk); err != nil {
			bad["bulk"] = l.Say("methods.problem.number")
		}
	}
	var invalid *assay.Invalid
	if _, err := k.Report.Reading(); len(bad) == 0 && errors.As(err, &invalid) {
		if _, there := invalid.Fields["bulk_density"]; there {
			bad["bulk"] = l.Say("reported.problem.bulk", "least", amount(assay.MinBulkDensity), "most", amount(assay.MaxBulkDensity))
		}
		if _, there := invalid.Fields["value"]; there {
			bad["value"] = l.Say("reported.problem.value")
		}
	}
	replaces, ok := parseID(t.replaces)
	if !ok {
		bad["code"] = l.Say("count.find.unknown", "code", t.code)
	}
	k.Replaces = replaces
	if replaces != (desk.ID{}) {
		k.Why, _ = assay.ParseCorrection(t.why) // none: asked for
	}
	return k, bad
}
