package office

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
	"sixmile/web/shell"
)

// Trays are the lab's trays of numbered cups.
type Trays interface {
	Plan(ctx context.Context, season int) (desk.TrayPlan, error)
	// SetPlan: fault.ErrConflict when trays with bags in them would be laid anew.
	SetPlan(ctx context.Context, p desk.TrayPlan) error
	List(ctx context.Context, season int) ([]desk.TrayLine, error)
}

// Ledgers account for every bag.
type Ledgers interface {
	Arrivals(ctx context.Context, from, to time.Time) (tray.Ledger, error)
	LotLedgers(ctx context.Context, season int) ([]desk.LotLedger, error)
	CountMail(ctx context.Context, day time.Time, bags int) error
}

// Idle lists what waits to be counted.
type Idle interface {
	Idle(ctx context.Context, season, most int, by desk.IdleOrder) ([]desk.Idle, error)
}

// Fresh lists counts whose suspensions still stand.
type Fresh interface {
	Fresh(ctx context.Context, season int, since time.Time) ([]desk.Fresh, error)
	// Recounted is how many bags were counted again on a day.
	Recounted(ctx context.Context, season int, day time.Time) (int, error)
}

// mostIdle is how many waiting bags the page lists.
const mostIdle = 200

// traysView is the page of trays.
type traysView struct {
	Season  string
	Plan    string
	Trays   []trayRow
	Idle    []idleRow
	Again   []againRow
	Keep    string // how long suspensions are kept, and how many recounts a day
	Enough  bool   // the day's recounts are done
	Ledger  ledgerView
	Day     field
	Mail    field
	Refused []refusal
	Saved   string

	IdleHeads, TrayHeads []shell.ColumnHead // of their tables
	IdleOrder            string             // what the list of waiting bags is, in words
}

type trayRow struct {
	No, Path, Labels string
	Bags, Counted    int
	Blanks, Checks   string
	Failed           bool

	no int
}

// againRow is a count that is worth another look.
type againRow struct {
	Code, Path, Seat, Result, Why, Chance string
}

type idleRow struct {
	Code, Raw, Seat, Condition string
	Days                       int
	HasForm                    bool
}

// season is the fall that the lab works on; before the first one it is lacking.
func (o *office) season(r *http.Request) (sample.Season, error) {
	seasons, err := o.Program.Seasons(r.Context())
	if err != nil {
		return sample.Season{}, err
	}
	s, ok := currentSeason(seasons, o.Today())
	if !ok {
		return sample.Season{}, lackSeason
	}
	return s, nil
}

func (o *office) traysShow(w http.ResponseWriter, r *http.Request) error {
	return o.showTrays(w, r, http.StatusOK, traysView{Day: field{Name: "day", Value: o.Today().Format(time.DateOnly)}, Mail: field{Name: "mail"}})
}

func (o *office) showTrays(w http.ResponseWriter, r *http.Request, status int, v traysView) error {
	s, err := o.season(r)
	if err != nil {
		return err
	}
	plan, err := o.Trays.Plan(r.Context(), s.Year)
	if err != nil {
		return err
	}
	lines, err := o.Trays.List(r.Context(), s.Year)
	if err != nil {
		return err
	}
	if err := o.listIdle(r, &v, s.Year); err != nil {
		return err
	}
	ledger, err := o.Ledgers.Arrivals(r.Context(), s.Opens, s.Closes)
	if err != nil {
		return err
	}
	done, err := o.Fresh.Recounted(r.Context(), s.Year, o.Today())
	if err != nil {
		return err
	}
	again, err := o.again(r.Context(), s.Year, plan, plan.Recounts-done)
	if err != nil {
		return err
	}
	v.Again, v.Keep = again, o.Lang.Say("tray.again.what", "days", plan.KeepDays, "most", plan.Recounts)
	if done > 0 {
		v.Keep += " " + o.Lang.Count("tray.again.done", done)
	}
	v.Enough = done >= plan.Recounts
	v.Season = strconv.Itoa(s.Year)
	v.Plan = o.Lang.Say("tray.plan", "cups", plan.Cups, "blanks", plan.Blanks, "checks", plan.Checks)
	v.Trays = trayRows(o.Lang, plan, lines)
	v.sort(o.Lang, readSorting(r, "trays", "trays", "sort"))
	v.Ledger = newLedgerView(o.Lang, "tray.part", ledger)
	v.Refused = refusals(v.Day, v.Mail)
	p := o.page(r, o.Lang.Say("tray.title"))
	p.Wide = true
	return shell.Render(w, r, status, traysPage(p, v))
}

// listIdle lists what waits to be counted, sorted by the store: there may be more
// than the page shows.
func (o *office) listIdle(r *http.Request, v *traysView, season int) error {
	waiting := readSorting(r, "sort", "waiting", "trays")
	v.IdleHeads = arrange(&waiting, v.Idle,
		inOrder[idleRow](o.Lang.Say("tray.col.days"), true, true),
		inStore[idleRow](shell.Column(desk.IdleByCode), o.Lang.Say("tray.col.code")),
		inStore[idleRow](shell.Column(desk.IdleBySeat), o.Lang.Say("tray.col.seat")),
		notSorted[idleRow](o.Lang.Say("tray.col.wants"), false))
	idle, err := o.Idle.Idle(r.Context(), season, mostIdle, desk.IdleOrder(waiting.by))
	if err != nil {
		return err
	}
	v.Idle = idleRows(o.Lang, idle, o.Today())
	var says []string
	if waiting.by == "" {
		says = append(says, o.Lang.Say("tray.waiting.longest"))
	}
	if len(idle) == mostIdle {
		says = append(says, o.Lang.Say("tray.waiting.most", "most", mostIdle))
	}
	v.IdleOrder = strings.Join(says, " ")
	return nil
}

// sort sorts the table of trays.
func (v *traysView) sort(l *catalog.Lang, s sorting) {
	v.TrayHeads = arrange(&s, v.Trays,
		byNumber("", l.Say("tray.col.tray"), func(r trayRow) int { return r.no }).left(),
		byNumber("bags", l.Say("tray.col.bags"), func(r trayRow) int { return r.Bags }),
		byNumber("counted", l.Say("tray.col.counted"), func(r trayRow) int { return r.Counted }),
		notSorted[trayRow](l.Say("tray.col.blank"), false),
		notSorted[trayRow](l.Say("tray.col.check"), false),
		notSorted[trayRow](l.Say("tray.col.labels"), false))
}

// again picks what is worth another look today, the most valuable first, and no
// more than the day has left.
func (o *office) again(ctx context.Context, season int, plan desk.TrayPlan, left int) ([]againRow, error) {
	fresh, err := o.Fresh.Fresh(ctx, season, o.Today().AddDate(0, 0, -plan.KeepDays))
	if err != nil {
		return nil, err
	}
	scheme, err := o.Recipes.Scheme(ctx)
	if err != nil {
		return nil, err
	}
	weigh := func(f desk.Fresh) assay.Recount { return scheme.Recount(f.Reading) }
	var out []againRow
	for _, f := range assay.MostWorth(fresh, weigh, left) {
		r := weigh(f)
		out = append(out, againRow{
			Code: f.Code.String(), Path: "/office/count?again=" + string(f.Code), Seat: seatText(o.Lang, f.Seat),
			Result: resultLine(o.Lang, scheme, f.Code, f.Reading), Why: againText(o.Lang, r), Chance: percent(r.Chance),
		})
	}
	return out, nil
}

func trayRows(l *catalog.Lang, plan desk.TrayPlan, lines []desk.TrayLine) []trayRow {
	var out []trayRow
	for _, t := range lines {
		no := strconv.Itoa(t.No)
		row := trayRow{
			No: no, Path: "/office/trays/" + no, Labels: "/office/trays/" + no + "/labels.pdf", Bags: t.Bags, Counted: t.Counted, no: t.No,
			Blanks: controlText(l, t.Blanks, plan.Blanks), Checks: controlText(l, t.Checks, plan.Checks),
		}
		for _, c := range t.Blanks {
			row.Failed = row.Failed || c.Failed()
		}
		out = append(out, row)
	}
	return out
}

// controlText says how the controls of a tray came out.
func controlText(l *catalog.Lang, done []desk.Control, of int) string {
	if of == 0 {
		return l.Say("tray.control.off")
	}
	if len(done) == 0 {
		return l.Say("tray.control.none")
	}
	text := ""
	for i, c := range done {
		if i > 0 {
			text += ", "
		}
		text += eggs(l, float64(c.Density))
		if c.Failed() {
			text += " " + l.Say("tray.control.failed")
		}
	}
	return text
}

func idleRows(l *catalog.Lang, idle []desk.Idle, today time.Time) []idleRow {
	var out []idleRow
	for _, i := range idle {
		row := idleRow{
			Code: i.Code.String(), Raw: string(i.Code), Seat: seatText(l, i.Seat), HasForm: i.HasForm,
			Days: int(today.Sub(i.Received).Hours() / 24),
		}
		if i.Condition != "" && i.Condition != tray.Good {
			row.Condition = l.SayOf("condition", string(i.Condition))
		}
		out = append(out, row)
	}
	return out
}

// traysPost notes the mail of a day, counted by hand.
func (o *office) traysPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	v := traysView{Day: field{Name: "day", Value: line(form, "day")}, Mail: field{Name: "mail", Value: line(form, "mail")}}
	day, err := sample.ParseDay(v.Day.Value)
	if err != nil || day.After(o.Today()) {
		v.Day.Problem = o.Lang.Say("tray.problem.day")
	}
	n, err := assay.ParseEggs(v.Mail.Value) // a whole number, typed the same way
	if err != nil || n > maxMail {
		v.Mail.Problem = o.Lang.Say("tray.problem.mail", "most", maxMail)
	}
	if len(refusals(v.Day, v.Mail)) > 0 {
		return o.showTrays(w, r, http.StatusUnprocessableEntity, v)
	}
	if err := o.Ledgers.CountMail(r.Context(), day, n); err != nil {
		return err
	}
	v.Saved, v.Mail.Value = o.Lang.Count("tray.mail.saved", n, "day", o.Lang.Date(day)), ""
	return o.showTrays(w, r, http.StatusOK, v)
}

// maxMail is the most bags a day's mail can bring.
const maxMail = 100_000
