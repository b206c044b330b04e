package shell

import (
	"strings"

	"sixmile/internal/account"
)

// menuPage is a page of the office that its menu leads to. Its name is the
// catalog's menu.page.<name>.
type menuPage struct {
	name, path string
	may        account.Action
}

// menuGroup is pages that belong together: menu.group.<name>.
type menuGroup struct {
	name  string
	pages []menuPage
}

// officeMenu is every page that the office starts from, in the order of a year.
var officeMenu = []menuGroup{
	{"counter", []menuPage{
		{"hand-out", "/office/counter", account.HandOut},
		{"stub", "/office/counter/answer", account.PrintAnswer},
	}},
	{"lab", []menuPage{
		{"soil", "/office/login-bags", account.LogBags},
		{"trays", "/office/trays", account.KeyCounts},
		{"slip", "/office/slip", account.LogBags},
		{"count", "/office/count", account.KeyCounts},
		{"upload", "/office/upload", account.KeyCounts},
		{"reported", "/office/reported", account.KeyCounts},
		{"bag", "/office/bag", account.KeyCounts},
		{"quality", "/office/quality", account.KeyCounts},
		{"indicator", "/office/indicator", account.KeyCounts},
		{"methods", "/office/methods", account.KeyCounts},
	}},
	{"maps", []menuPage{
		{"queue", "/office/queue", account.SettleBags},
		{"signoff", "/office/sign-off", account.SignOff},
		{"release", "/office/release", account.Release},
		{"recall", "/office/recall", account.Release},
		{"editions", "/office/editions", account.Release},
		{"history", "/office/history", account.LoadPast},
		{"sheet", "/office/sheet", account.OwnSheets},
		{"edge", "/office/edge", account.SeeEdge},
		{"analysis", "/office/analysis", account.SeeWaiting},
	}},
	{"bags", []menuPage{
		{"lots", "/office/lots", account.IssueBags},
		{"plan", "/office/plan", account.PlanBags},
		{"lookback", "/office/lookback", account.PlanBags},
		{"money", "/office/money", account.KeepMoney},
		{"annual", "/office/annual", account.MakeAnnual},
	}},
	{"setup", []menuPage{
		{"boundaries", "/office/boundaries", account.KeepGround},
		{"look-ahead", "/office/look-ahead", account.KeepRecipes},
		{"people", "/office/people", account.ManagePeople},
		{"trail", "/office/trail", account.SeeTrail},
	}},
}

// menu is what a person may open, group by group; groups of nothing are left out.
func menu(who *account.Staff) (groups []menuGroup) {
	for _, g := range officeMenu {
		open := menuGroup{name: g.name}
		for _, p := range g.pages {
			if who.May(p.may) {
				open.pages = append(open.pages, p)
			}
		}
		if len(open.pages) > 0 {
			groups = append(groups, open)
		}
	}
	return groups
}

// here is the menu's page that an address belongs to, and its group: the one
// whose address is the longest beginning of it. Both are zero for the desk.
func here(groups []menuGroup, address string) (g menuGroup, at menuPage) {
	for _, group := range groups {
		for _, p := range group.pages {
			within := address == p.path || strings.HasPrefix(address, p.path+"/")
			if within && len(p.path) > len(at.path) {
				g, at = group, p
			}
		}
	}
	return g, at
}

// MenuName is what the menu calls the page that an address of the office belongs
// to; empty for the desk and for what is in no menu.
func MenuName(p Page) string {
	if _, at := here(menu(p.Staff), p.Address); at.name != "" {
		return p.SayOf("menu.page", at.name)
	}
	return ""
}

// Opens tells whether a person may open a page of the menu; addresses that are
// not in the menu are open.
func Opens(who *account.Staff, address string) bool {
	for _, g := range officeMenu {
		for _, p := range g.pages {
			if p.path == address {
				return who.May(p.may)
			}
		}
	}
	return true
}

// current is how a link says that it leads to this page, or to the one above it.
func current(p Page, m menuPage) string {
	if p.Address == m.path {
		return "page"
	}
	return "true"
}
