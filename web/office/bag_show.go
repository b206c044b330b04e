package office

import (
	"context"
	"errors"
	"net/http"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// Histories tell what happened to a bag.
type Histories interface {
	// History: fault.ErrNotFound for no such bag.
	History(ctx context.Context, code bag.Code) (desk.History, error)
}

// historyView is the page of one bag's history.
type historyView struct {
	Find    field
	Code    string // empty: only the field to find one
	Facts   []fact
	Results []standingRow
	Notes   []string
}

type fact struct{ Name, Text string }

// standingRow is one result of the bag.
type standingRow struct {
	Day, By, Figure, Limits, Level, Method, Why, Signed string
	Portions                                            string
	Stands                                              bool
}

func (o *office) bagShow(w http.ResponseWriter, r *http.Request) error {
	typed := line(r.URL.Query(), "code")
	v := historyView{Find: field{Name: "code", Value: typed}}
	if typed == "" {
		return o.showBag(w, r, http.StatusOK, v)
	}
	code, err := bag.Parse(scanned(typed))
	if err != nil {
		v.Find.Problem = codeProblem(o.Lang, err)
		return o.showBag(w, r, http.StatusUnprocessableEntity, v)
	}
	h, err := o.Histories.History(r.Context(), code)
	if errors.Is(err, fault.ErrNotFound) {
		v.Find.Problem = o.Lang.Say("count.find.unknown", "code", code.String())
		return o.showBag(w, r, http.StatusNotFound, v)
	}
	if err != nil {
		return err
	}
	scheme, err := o.Recipes.Scheme(r.Context())
	if err != nil {
		return err
	}
	v.tell(o.Lang, scheme, h)
	return o.showBag(w, r, http.StatusOK, v)
}

func (o *office) showBag(w http.ResponseWriter, r *http.Request, status int, v historyView) error {
	p := o.page(r, o.Lang.Say("bag.title"))
	p.Scripts, p.Wide = []string{"count.js"}, true
	return shell.Render(w, r, status, bagPage(p, v))
}

// tell puts a history into words.
func (v *historyView) tell(l *catalog.Lang, s assay.Scheme, h desk.History) {
	v.Code = h.Code.String()
	add := func(name, text string) { v.Facts = append(v.Facts, fact{name, text}) }
	add(l.Say("bag.fact.state"), l.SayOf("bag.state", string(h.State)))
	add(l.Say("bag.fact.issued"), l.Date(h.Issued))
	source := h.Source
	if source == desk.NoSource {
		source = "none"
	}
	add(l.Say("bag.fact.source"), l.SayOf("bag.source", string(source)))
	received := l.Say("bag.soil.none")
	if h.Received != nil {
		received = l.Date(*h.Received)
	}
	add(l.Say("bag.fact.soil"), received)
	if h.Condition != "" {
		add(l.Say("bag.fact.condition"), l.SayOf("condition", string(h.Condition)))
	}
	if at := seatText(l, h.Seat); at != "" {
		add(l.Say("bag.fact.seat"), at)
	}
	for _, d := range h.Results {
		v.Results = append(v.Results, newStandingRow(l, s, d))
	}
	for _, t := range h.Twins {
		if d, err := assay.Compare(t.First, t.Second, t.Method, t.Kind); err == nil {
			v.Notes = append(v.Notes, l.Say("bag.note.twin", "day", l.Date(t.Day), "kind", l.SayOf("twin", t.Kind.String()),
				"relative", percent(d.Relative), "expected", percent(d.Expected)))
		}
	}
	for _, c := range h.Claims {
		key := "bag.note.claim"
		if c.Settled != nil {
			key = "bag.note.claim.settled"
		}
		v.Notes = append(v.Notes, l.Say(key, "day", l.Date(c.Day), "reason", l.SayOf("queue.reason", c.Reason)))
	}
	if h.FollowUp != "" {
		v.Notes = append(v.Notes, l.Say("bag.note.followup", "code", h.FollowUp.String()))
	}
	if h.Follows != "" {
		v.Notes = append(v.Notes, l.Say("bag.note.follows", "code", h.Follows.String()))
	}
}

func newStandingRow(l *catalog.Lang, s assay.Scheme, d desk.Standing) standingRow {
	row := standingRow{
		Day: l.Date(d.Day), By: d.By, Figure: eggs(l, float64(d.Reading.Density)), Level: l.SayOf("level", s.Class(d.Reading).Name),
		Limits: l.Say("signoff.nolimits"), Method: methodName(l, d.Method), Stands: d.Stands,
	}
	if d.Reading.LimitsKnown {
		row.Limits = l.Say("signoff.limits", "low", eggs(l, d.Reading.Limits.Low), "high", eggs(l, d.Reading.Limits.High))
	}
	if d.Reading.LimitsBy != 0 {
		row.Limits += ", " + l.SayOf("limits", d.Reading.LimitsBy.String())
	}
	for i, a := range d.Count.Aliquots {
		if i > 0 {
			row.Portions += ", "
		}
		row.Portions += l.Say("bag.portion", "eggs", a.Eggs, "ml", amount(a.ML))
	}
	if d.Why != "" {
		row.Why = l.SayOf("correction", string(d.Why))
	}
	if d.Signed != nil {
		row.Signed = l.Date(*d.Signed)
	}
	return row
}
