package office

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

func ticks(items []checkItem) map[string]bool {
	out := map[string]bool{}
	for _, i := range items {
		out[i.Key] = i.Done
	}
	return out
}

func TestTheChecklistTicksItselfOff(t *testing.T) {
	l := catalog.English()
	g := groundwork{}
	items := checklist(l, g, today)
	require.Zero(t, doneItems(items))
	for _, i := range items {
		require.NotContains(t, i.Text+i.Command, "[", i.Key)
		require.True(t, i.Href != "" || i.Command != "", "%s: no way to do it", i.Key)
	}
	scheme := assay.DefaultScheme()
	person := func(r account.Role, joined, active bool) account.Person {
		return account.Person{Staff: account.Staff{Role: r}, Joined: joined, Active: active}
	}
	for _, step := range []struct {
		key  string
		done bool
		do   func()
	}{
		{"boundaries", false, func() {
			g.Places = []place.Place{{ID: 1, Kind: place.County, Name: "Plover"}, {ID: 2, Kind: place.County, Name: "Sedge"}}
		}},
		{"boundaries", true, func() { g.Places = append(g.Places, place.Place{ID: 11, Kind: place.Township, County: 1}) }},
		{"season", false, func() { g.Seasons = []sample.Season{{Year: 2024, Opens: date(2024, 8, 1), Closes: date(2025, 5, 31)}} }},
		{"season", true, func() {
			g.Seasons = append(g.Seasons, sample.Season{Year: 2026, Opens: date(2026, 8, 1), Closes: date(2027, 5, 31)})
		}},
		{"scheme", true, func() { g.Scheme = &scheme }},
		{"method", true, func() { g.Methods = assay.PresetMethods() }},
		{"offices", false, func() { g.Offices = []desk.Office{{County: 1}} }},
		{"offices", true, func() { g.Offices = append(g.Offices, desk.Office{County: 2}) }},
		{"bags", true, func() { g.Lots = []desk.Lot{{}} }},
		{"people", false, func() {
			g.People = []account.Person{person(account.Coordinator, true, true), person(account.Technician, false, true)}
		}},
		{"people", false, func() { g.People = append(g.People, person(account.Technician, true, true)) }},
		{"people", false, func() { g.People = append(g.People, person(account.Coordinator, true, false)) }},
		{"people", true, func() { g.People = append(g.People, person(account.Coordinator, true, true)) }},
	} {
		step.do()
		require.Equal(t, step.done, ticks(checklist(l, g, today))[step.key], step.key)
	}
	require.Equal(t, len(items), doneItems(checklist(l, g, today)))
	require.Contains(t, checklist(l, g, today)[4].Text, "all 2 counties")
	// The season ends, and the list asks for the next.
	require.False(t, ticks(checklist(l, g, date(2027, 6, 1)))["season"])
}

func TestTheDeskShowsWhatIsLeft(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office")
	require.Equal(t, 7, page.Find(".checklist li").Length())
	require.Equal(t, 5, page.Find(".checklist li.done").Length(), page.text(".checklist"))
	require.Contains(t, page.text("#setup + p"), "5 of 7 are done.")
	require.Contains(t, page.text(".checklist"), "Still to write down: Plover, Sedge.")
	require.Contains(t, page.text(".checklist"), "Invite a second coordinator")
	require.Equal(t, "/office/people", page.attr(".checklist a.button", "href"))
	// Bags are out: what waits for a person comes first, what is done is folded away.
	require.Equal(t, "Still to set up", page.text("#setup"))
	require.Zero(t, page.Find("#setup ~ .checklist li.done").Length())
	require.Equal(t, 5, page.Find(".setup details .checklist li.done").Length())
	require.Less(t, strings.Index(page.text("main"), "What to do next"), strings.Index(page.text("main"), "Still to set up"))
	for _, r := range []account.Role{account.Clerk, account.Technician, account.Educator} {
		require.Zero(t, w.get(t, r, "/office").Find(".checklist").Length(), r)
	}
	w.program.offices = []desk.Office{{County: 1}, {County: 2}}
	w.staff.people = append(w.staff.people, account.Person{Staff: account.Staff{Role: account.Coordinator}, Active: true, Joined: true})
	require.Zero(t, w.get(t, boss, "/office").Find(".checklist").Length(), "all done: it is gone")
}

func TestTheDeskOfAProgramThatHasJustBegun(t *testing.T) {
	w := newWorld(t)
	w.program.seasons, w.program.places = nil, nil
	page := w.get(t, boss, "/office")
	require.Equal(t, "Before the first bag goes out", page.text("#setup"))
	require.Less(t, strings.Index(page.text("main"), "Before the first bag"), strings.Index(page.text("main"), "What to do next"))
	require.Equal(t, "/office/boundaries", page.attr(".checklist a.button", "href"))
	require.Contains(t, page.text(".note"), "Go through the list above")
	require.Zero(t, page.Find(".tasks a").Length(), "nobody has a bag to work with")
	page = w.get(t, account.Technician, "/office")
	require.Contains(t, page.text(".note"), "Your coordinator opens one")
	require.Zero(t, page.Find(".tasks").Length())
}
