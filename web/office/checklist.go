package office

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// Offices tells where bags are handed out.
type Offices interface {
	Offices(ctx context.Context) ([]desk.Office, error)
}

// checkItem is a line of the list of what a program needs before its first bag
// goes out. It ticks itself off: nobody marks anything.
type checkItem struct {
	Key     string // of its sentences under checklist.
	Done    bool
	Text    string
	Href    string // where it is done; empty when a command does it
	Command string
}

// groundwork is what the list is worked out from.
type groundwork struct {
	Places  []place.Place
	Seasons []sample.Season
	Scheme  *assay.Scheme // nil: none in force
	Methods []assay.Method
	Offices []desk.Office
	Lots    []desk.Lot
	People  []account.Person
}

// checklist is what stands between an empty program and its first bags, in the
// order of doing it.
func checklist(l *catalog.Lang, g groundwork, today time.Time) []checkItem {
	all := counties(g.Places)
	townships := len(g.Places) - len(all)
	season, known := currentSeason(g.Seasons, today)
	running := known && !season.Closes.Before(today)
	fall := strconv.Itoa(season.Year)
	title := ""
	if g.Scheme != nil {
		title = g.Scheme.Title
	}
	const found = "sixmile found --name NAME --state STATE"
	item := func(key string, done bool, said, href, command string) checkItem {
		if !done {
			said = l.SayOf("checklist.todo", key)
		}
		return checkItem{Key: key, Done: done, Text: said, Href: href, Command: command}
	}
	return []checkItem{
		item("boundaries", len(all) > 0 && townships > 0, l.Say("checklist.boundaries.done", "counties", len(all), "townships", townships),
			"/office/boundaries", ""),
		item("season", running, l.Say("checklist.season.done", "year", fall, "closes", l.Date(season.Closes)),
			"", seasonCommand(today)),
		item("scheme", g.Scheme != nil, l.Say("checklist.scheme.done", "title", title), "", found),
		item("method", len(g.Methods) > 0, l.Count("checklist.method.done", len(g.Methods)), "", found),
		officesItem(l, all, g.Offices),
		item("bags", len(g.Lots) > 0, l.Say("checklist.bags.done", "year", fall), "/office/lots", ""),
		peopleItem(l, g.People),
	}
}

// officesItem names the counties whose office nobody has written down.
func officesItem(l *catalog.Lang, all []place.Place, offices []desk.Office) checkItem {
	item := checkItem{Key: "offices", Command: `sixmile office COUNTY --address "…" --hours "…" --drop-off "…"`}
	var without []string
	for _, c := range all {
		if !slices.ContainsFunc(offices, func(o desk.Office) bool { return o.County == c.ID }) {
			without = append(without, c.Name)
		}
	}
	if item.Done = len(all) > 0 && len(without) == 0; item.Done {
		item.Text = l.Count("checklist.offices.done", len(all))
		return item
	}
	item.Text = l.SayOf("checklist.todo", "offices")
	const few = 4
	if len(without) > 0 && len(without) <= few {
		item.Text = l.Say("checklist.offices.missing", "counties", strings.Join(without, ", "))
	} else if len(without) > few {
		item.Text = l.Count("checklist.offices.many", len(without))
	}
	return item
}

// peopleItem wants a technician who can sign in, and a second coordinator for
// the day the first one is away.
func peopleItem(l *catalog.Lang, people []account.Person) checkItem {
	item := checkItem{Key: "people", Href: "/office/people"}
	technicians, coordinators := 0, 0
	for _, p := range people {
		switch {
		case !p.Active || !p.Joined:
		case p.Role == account.Technician:
			technicians++
		case p.Role == account.Coordinator:
			coordinators++
		}
	}
	switch {
	case technicians == 0:
		item.Text = l.Say("checklist.people.technician")
	case coordinators < 2:
		item.Text = l.Say("checklist.people.second")
	default:
		item.Done, item.Text = true, l.Say("checklist.people.done")
	}
	return item
}

// doneItems is how many are done.
func doneItems(items []checkItem) int {
	n := 0
	for _, i := range items {
		if i.Done {
			n++
		}
	}
	return n
}

// readGroundwork reads what the checklist is worked out from.
func (o *office) readGroundwork(ctx context.Context, seasons []sample.Season) (g groundwork, err error) {
	g.Seasons = seasons
	if g.Places, err = o.Program.Places(ctx); err != nil {
		return g, err
	}
	scheme, err := o.Recipes.Scheme(ctx)
	if err := except(err, fault.ErrNotFound); err != nil {
		return g, err
	}
	if err == nil && len(scheme.Classes) > 0 {
		g.Scheme = &scheme
	}
	if g.Methods, err = o.Recipes.Methods(ctx); err != nil {
		return g, err
	}
	if g.Offices, err = o.Offices.Offices(ctx); err != nil {
		return g, err
	}
	if g.People, err = o.Roster.List(ctx, o.Today()); err != nil {
		return g, err
	}
	if s, ok := currentSeason(seasons, o.Today()); ok {
		g.Lots, err = o.Lots.Lots(ctx, s.Year)
	}
	return g, err
}

// checklistFor is the list for those who can do something about it; none for
// others.
func (o *office) checklistFor(ctx context.Context, staff *account.Staff, seasons []sample.Season) ([]checkItem, error) {
	if !staff.May(account.ManagePeople) {
		return nil, nil
	}
	g, err := o.readGroundwork(ctx, seasons)
	if err != nil {
		return nil, err
	}
	return checklist(o.Lang, g, o.Today()), nil
}
