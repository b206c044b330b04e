package office

import (
	"net/http"
	"slices"
	"strconv"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/web/shell"
)

// deskView is the desk: where the season stands, and what to do next.
type deskView struct {
	Season string // the fall's year; empty before the first season
	Steps  []step
	Todo   []task
	Guide  string      // the role's own guide
	Setup  []checkItem // while something of it is left
	SetUp  string      // how far it is, in words
	// Running: bags of the season are out, and what is left to set up can wait its turn.
	Running bool
	Wait    string // what stands in for tasks before the first season
}

// step is how many of the season's bags have come so far.
type step struct {
	Name  string
	Bags  int
	Width string // of 100, for the bar
}

// task is something that waits for this person.
type task struct {
	Text string
	Href string
	Link string
}

func (o *office) deskShow(w http.ResponseWriter, r *http.Request) error {
	seasons, err := o.Program.Seasons(r.Context())
	if err != nil {
		return err
	}
	staff := shell.Staff(r)
	v := deskView{Guide: dutyOf(staff.Role)}
	progress := desk.Progress{}
	if s, ok := currentSeason(seasons, o.Today()); ok {
		if progress, err = o.Season.Progress(r.Context(), s.Year); err != nil {
			return err
		}
		v.Season = strconv.Itoa(s.Year)
		v.Steps = steps(o.Lang, progress)
	}
	queued := 0
	if staff.May(account.SettleBags) {
		items, err := o.Queue.Queue(r.Context())
		if err != nil {
			return err
		}
		queued = len(items)
	}
	v.Todo = append(o.foundTasks(r), tasks(o.Lang, staff, progress, queued, v.Season != "")...)
	list, err := o.checklistFor(r.Context(), staff, seasons)
	if err != nil {
		return err
	}
	if done := doneItems(list); done < len(list) {
		v.Setup, v.SetUp = list, o.Lang.Say("checklist.so.far", "done", done, "all", len(list))
		v.Running = slices.ContainsFunc(list, func(i checkItem) bool { return i.Key == "bags" && i.Done })
	}
	if v.Wait = o.Lang.Say("office.desk.noseason"); len(list) > 0 {
		v.Wait = o.Lang.Say("office.desk.noseason.list")
	}
	p := o.page(r, o.Lang.Say("office.desk.title"))
	p.Wide = true
	return shell.Render(w, r, http.StatusOK, deskPage(p, v))
}

// steps are the stations of a season's bags, each as a share of those issued.
func steps(l *catalog.Lang, p desk.Progress) []step {
	of := func(n int) string {
		if p.Issued == 0 {
			return "0"
		}
		return strconv.FormatFloat(100*float64(n)/float64(p.Issued), 'f', 1, 64)
	}
	return []step{
		{l.Say("office.step.issued"), p.Issued, of(p.Issued)},
		{l.Say("office.step.form"), p.FormIn, of(p.FormIn)},
		{l.Say("office.step.soil"), p.SoilIn, of(p.SoilIn)},
		{l.Say("office.step.counted"), p.Counted, of(p.Counted)},
	}
}

// tasks is what waits for a person of this role, most pressing first, and the
// plain ways to the role's pages where nothing presses. Before the first season
// nobody has a bag to work with.
func tasks(l *catalog.Lang, who *account.Staff, p desk.Progress, queued int, opened bool) []task {
	var out []task
	if opened {
		out = bagTasks(l, who, p, queued)
	}
	add := func(text, href, link string) { out = append(out, task{text, href, link}) }
	if who.Role == account.Clerk {
		add(l.Say("office.todo.clerk"), "/bags", l.Say("office.todo.clerk.go"))
	}
	if who.Role == account.Educator {
		add(l.Say("office.todo.meeting"), "/office/help/meeting", l.Say("office.todo.meeting.go"))
	}
	if who.Role == account.Educator || who.Role == account.Clerk {
		add(l.Say("office.todo.map"), "/", l.Say("office.todo.map.go"))
	}
	return out
}

// bagTasks are those with a season's bags.
func bagTasks(l *catalog.Lang, who *account.Staff, p desk.Progress, queued int) []task {
	var out []task
	add := func(text, href, link string) { out = append(out, task{text, href, link}) }
	if who.May(account.SettleBags) && queued > 0 {
		add(l.Count("office.todo.queue", queued), "/office/queue", l.Say("office.todo.queue.go"))
	}
	if who.May(account.KeyCounts) && p.Ready > 0 {
		add(l.Count("office.todo.ready", p.Ready), "/office/count", l.Say("office.todo.ready.go"))
	}
	if who.May(account.LogBags) {
		add(l.Say("office.todo.soil"), "/office/login-bags", l.Say("office.todo.soil.go"))
	}
	if who.May(account.KeyCounts) && p.NoForm > 0 {
		add(l.Count("office.todo.noform", p.NoForm), "/office/trays", l.Say("office.todo.noform.go"))
	}
	if who.May(account.IssueBags) {
		add(l.Say("office.todo.lots"), "/office/lots", l.Say("office.todo.lots.go"))
	}
	if who.May(account.SignOff) && p.Unsigned > 0 {
		add(l.Count("office.todo.signoff", p.Unsigned), "/office/sign-off", l.Say("office.todo.signoff.go"))
	}
	if who.May(account.Release) {
		add(l.Say("office.todo.release"), "/office/release", l.Say("office.todo.release.go"))
	}
	if who.May(account.HandOut) {
		add(l.Say("office.todo.counter"), "/office/counter", l.Say("office.todo.counter.go"))
	}
	return out
}
