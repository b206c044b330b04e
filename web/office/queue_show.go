package office

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/tray"
	"sixmile/web/shell"
)

// Queue is the codes that need a person.
type Queue interface {
	Queue(ctx context.Context) ([]desk.QueueItem, error)
	// Settle: fault.ErrNotFound when it is settled already.
	Settle(ctx context.Context, id desk.ID, today time.Time) error
	// Prefer has the later form hold the bag. fault.ErrConflict: it is on a map.
	Prefer(ctx context.Context, id desk.ID, today time.Time) error
	// Retype says which code was meant. fault.ErrNotFound: no such bag;
	// fault.ErrConflict: another form holds it.
	Retype(ctx context.Context, id desk.ID, code bag.Code, today time.Time) error
}

// Strays is soil that is no bag of the program's as it stands.
type Strays interface {
	Strays(ctx context.Context) ([]desk.Stray, error)
	SettleStray(ctx context.Context, id desk.ID, fate desk.Fate, today time.Time) error
	// RetypeStray logs it in as the bag it is. fault.ErrNotFound: no such bag;
	// fault.ErrConflict: that bag's soil has come.
	RetypeStray(ctx context.Context, id desk.ID, code bag.Code, c tray.Condition, today time.Time) (tray.Seat, error)
}

// queueView is the page of codes to settle.
type queueView struct {
	Items   []queueRow
	Heads   []shell.ColumnHead
	Settled int // just now
	Nothing string
	Done    string
	Problem string
	At      string // the field of the problem

	All  int   // that wait, shown or not
	Left int   // that the page has no room for
	Find field // part of a code that all shown ones have

	Strays     []strayRow
	StrayHeads []shell.ColumnHead
	StraysLeft int // that the page has no room for

	Here string // the page, with its tables sorted as they are
}

// mostQueued is how many lines of either kind one page holds; the others come when
// these are settled, or when they are asked for by code.
const mostQueued = 200

// strayRow is soil that waits for a person.
type strayRow struct {
	ID, Code, Kind, Day string
	Typed               string
}

type queueRow struct {
	ID, Code, Reason, Day, County string
	Later                         bool // the later form can be preferred
	Retype                        bool // the right code can be typed
	Typed                         string
}

func (o *office) queueShow(w http.ResponseWriter, r *http.Request) error {
	return o.showQueue(w, r, http.StatusOK, queueView{})
}

func (o *office) showQueue(w http.ResponseWriter, r *http.Request, status int, v queueView) error {
	items, err := o.Queue.Queue(r.Context())
	if err != nil {
		return err
	}
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	strays, err := o.Strays.Strays(r.Context())
	if err != nil {
		return err
	}
	v.Items, v.Strays = queueRows(o.Lang, newGazetteer(places), items), strayRows(o.Lang, strays)
	v.find(line(r.URL.Query(), "find"))
	v.sort(o.Lang, r)
	v.Items, v.Left = v.Items[:min(len(v.Items), mostQueued)], max(0, len(v.Items)-mostQueued)
	v.Strays, v.StraysLeft = v.Strays[:min(len(v.Strays), mostQueued)], max(0, len(v.Strays)-mostQueued)
	v.keep(r.PostForm)
	v.At = v.field(v.At)
	p := o.page(r, o.Lang.Say("queue.title"))
	p.Wide = true
	return shell.Render(w, r, status, queuePage(p, v))
}

func queueRows(l *catalog.Lang, g gazetteer, items []desk.QueueItem) []queueRow {
	var out []queueRow
	for _, q := range items {
		out = append(out, queueRow{
			ID: idText(q.ID), Code: q.Code.String(), Reason: l.SayOf("queue.reason", q.Reason),
			Day: l.Date(q.Day), County: g.name(l, q.County),
			Later: q.Reason == "doubled" || q.Reason == "used", Retype: q.Reason == "unknown" || q.Reason == "void",
		})
	}
	return out
}

func strayRows(l *catalog.Lang, strays []desk.Stray) []strayRow {
	var out []strayRow
	for _, s := range strays {
		out = append(out, strayRow{ID: idText(s.ID), Code: s.Code.String(), Kind: l.SayOf("queue.stray", string(s.Kind)), Day: l.Date(s.Day)})
	}
	return out
}

// find keeps the lines whose code has what was asked for in it, however it was typed
// or scanned.
func (v *queueView) find(typed string) {
	v.All, v.Find = len(v.Items), field{Name: "find", Value: typed}
	part := strings.ToUpper(strings.NewReplacer("-", "", " ", "").Replace(scanned(typed)))
	if part == "" {
		return
	}
	other := func(code string) bool { return !strings.Contains(strings.ReplaceAll(code, "-", ""), part) }
	v.Items = slices.DeleteFunc(v.Items, func(q queueRow) bool { return other(q.Code) })
	v.Strays = slices.DeleteFunc(v.Strays, func(s strayRow) bool { return s.Code != "" && other(s.Code) })
}

// sort sorts the two tables.
func (v *queueView) sort(l *catalog.Lang, r *http.Request) {
	codes, soil := readSorting(r, "sort", "codes", "soil", "find"), readSorting(r, "soil", "strays", "sort", "find")
	v.Heads = arrange(&codes, v.Items,
		notSorted[queueRow](l.Say("queue.col.pick"), false),
		byWords("code", l.Say("queue.col.code"), func(r queueRow) string { return r.Code }),
		byWords("reason", l.Say("queue.col.reason"), func(r queueRow) string { return r.Reason }),
		inOrder[queueRow](l.Say("queue.col.day"), false, false),
		byWords("county", l.Say("queue.col.county"), func(r queueRow) string { return r.County }),
		notSorted[queueRow](l.Say("queue.col.instead"), false))
	v.StrayHeads = arrange(&soil, v.Strays,
		byWords("code", l.Say("queue.strays.col.code"), func(r strayRow) string { return r.Code }),
		byWords("reason", l.Say("queue.col.reason"), func(r strayRow) string { return r.Kind }),
		inOrder[strayRow](l.Say("queue.strays.col.day"), false, false),
		notSorted[strayRow](l.Say("queue.strays.col.is"), false),
		notSorted[strayRow](l.Say("queue.strays.col.fate"), false))
	v.Here = codes.here()
}

// keep puts back what was typed on a page that is shown again.
func (v *queueView) keep(form url.Values) {
	for i := range v.Items {
		v.Items[i].Typed = line(form, "code-"+v.Items[i].ID)
	}
	for i := range v.Strays {
		v.Strays[i].Typed = line(form, "code-"+v.Strays[i].ID)
	}
}

// field is where a problem with a line leads: its code where one is typed there,
// its box to tick where not; "" where the line was settled meanwhile.
func (v *queueView) field(code string) string {
	id := strings.TrimPrefix(code, "code-")
	for _, q := range v.Items {
		if q.ID == id && !q.Retype {
			return "item-" + id
		}
		if q.ID == id {
			return code
		}
	}
	for _, s := range v.Strays {
		if s.ID == id {
			return code
		}
	}
	return ""
}

// queueOne settles one code in the way that its button says: "prefer", "retype",
// "stray", "laid_aside" or "sent_back", and whose.
func (o *office) queueOne(w http.ResponseWriter, r *http.Request, how, whose string) error {
	id, ok := parseID(whose)
	if !ok || id == (desk.ID{}) {
		return fault.ErrNotFound
	}
	v := queueView{At: "code-" + whose}
	var code bag.Code
	if how == "retype" || how == "stray" {
		var err error
		if code, err = bag.Parse(scanned(line(r.PostForm, v.At))); err != nil {
			v.Problem = codeProblem(o.Lang, err)
			return o.showQueue(w, r, http.StatusUnprocessableEntity, v)
		}
	}
	v.Done = o.Lang.SayOf("queue.done", how)
	var err error
	switch how {
	case "prefer":
		err = o.Queue.Prefer(r.Context(), id, o.Today())
	case "retype":
		err = o.Queue.Retype(r.Context(), id, code, o.Today())
	case "stray":
		var seat tray.Seat
		seat, err = o.Strays.RetypeStray(r.Context(), id, code, tray.Good, o.Today())
		v.Done += " " + seatText(o.Lang, seat)
	default:
		err = o.Strays.SettleStray(r.Context(), id, desk.Fate(how), o.Today())
	}
	switch {
	case errors.Is(err, fault.ErrNotFound) && code == "", errors.Is(err, fault.ErrConflict) && code == "":
		v.Done, v.Problem = "", o.Lang.SayOf("queue.problem", how)
	case errors.Is(err, fault.ErrNotFound):
		v.Done, v.Problem = "", o.Lang.Say("queue.problem.nobag", "code", code.String())
	case errors.Is(err, fault.ErrConflict):
		v.Done, v.Problem = "", o.Lang.Say("queue.problem.taken", "code", code.String())
	case err != nil:
		return err
	}
	if v.Problem != "" {
		return o.showQueue(w, r, http.StatusConflict, v)
	}
	r.PostForm.Del(v.At)
	return o.showQueue(w, r, http.StatusOK, v)
}

// queuePost settles what was ticked. What is settled already stays so: the same
// button pressed twice, or two people at it, change nothing.
func (o *office) queuePost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	if how, whose, one := strings.Cut(form.Get("do"), " "); one {
		if !slices.Contains([]string{"prefer", "retype", "stray", string(desk.LaidAside), string(desk.SentBack)}, how) {
			return fault.ErrNotFound
		}
		return o.queueOne(w, r, how, whose)
	}
	var ids []desk.ID
	for _, s := range form["item"] {
		id, ok := parseID(s)
		if !ok || id == (desk.ID{}) {
			return fault.ErrNotFound
		}
		ids = append(ids, id)
	}
	if len(ids) == 0 {
		return o.showQueue(w, r, http.StatusUnprocessableEntity, queueView{Nothing: o.Lang.Say("queue.nothing")})
	}
	settled := 0
	for _, id := range ids {
		err := o.Queue.Settle(r.Context(), id, o.Today())
		if err != nil && !errors.Is(err, fault.ErrNotFound) {
			return err
		}
		settled++
	}
	return o.showQueue(w, r, http.StatusOK, queueView{Settled: settled})
}
