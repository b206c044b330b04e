package office

import (
	"maps"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/desk"
)

// Who may open what: every route of the office, by role. A route that is not in
// this table fails the test.
func TestWhoMayOpenWhat(t *testing.T) {
	const c, te, e, co = account.Clerk, account.Technician, account.Educator, account.Coordinator
	all, none := []account.Role{c, te, e, co}, []account.Role(nil)
	table := map[string][]account.Role{
		"GET /office/sign-in":                                  none, // open to all, below
		"POST /office/sign-in":                                 none,
		"GET /office/sign-in/second":                           none,
		"POST /office/sign-in/second":                          none,
		"GET /office/welcome/{link}":                           none,
		"POST /office/welcome/{link}":                          none,
		"GET /office/forgot":                                   none,
		"POST /office/forgot":                                  none,
		"GET /office/reset/{link}":                             none,
		"POST /office/reset/{link}":                            none,
		"GET /office/me":                                       all,
		"POST /office/me":                                      all,
		"GET /office/me/second":                                all,
		"POST /office/me/second":                               all,
		"GET /office/counter":                                  {c, co},
		"POST /office/counter":                                 {c, co},
		"GET /office/counter/answer":                           {c, co},
		"POST /office/counter/answer":                          {c, co},
		"GET /office/people":                                   {co},
		"POST /office/people":                                  {co},
		"GET /office/people/{id}":                              {co},
		"POST /office/people/{id}":                             {co},
		"GET /office/trail":                                    {co},
		"GET /office/trail.csv":                                {co},
		"POST /office/sign-out":                                all,
		"GET /office":                                          all,
		"GET /office/help":                                     all,
		"GET /office/help/counter":                             all,
		"GET /office/help/lab":                                 all,
		"GET /office/help/meetings":                            all,
		"GET /office/help/program":                             all,
		"GET /office/help/meeting":                             all,
		"GET /office/login-bags":                               {te, co},
		"POST /office/login-bags":                              {te, co},
		"GET /office/count":                                    {te, co},
		"POST /office/count":                                   {te, co},
		"POST /office/count/preview":                           {te, co},
		"GET /office/lots":                                     {co},
		"POST /office/lots":                                    {co},
		"GET /office/lots/{id}/sheets.pdf":                     {co},
		"GET /office/queue":                                    {co},
		"POST /office/queue":                                   {co},
		"GET /office/edge":                                     {e, co},
		"GET /office/sign-off":                                 {co},
		"POST /office/sign-off":                                {co},
		"GET /office/sign-off/{id}/slips.pdf":                  {co},
		"GET /office/trays":                                    {te, co},
		"POST /office/trays":                                   {te, co},
		"GET /office/trays/{no}":                               {te, co},
		"POST /office/trays/{no}":                              {te, co},
		"GET /office/trays/{no}/labels.pdf":                    {te, co},
		"GET /office/quality":                                  {te, co},
		"POST /office/quality":                                 {te, co},
		"GET /office/look-ahead":                               {co},
		"POST /office/look-ahead":                              {co},
		"GET /office/methods":                                  {te, co},
		"POST /office/methods":                                 {co},
		"GET /office/reported":                                 {te, co},
		"POST /office/reported":                                {te, co},
		"POST /office/sign-off/{id}/follow-up":                 {co},
		"GET /office/upload":                                   {te, co},
		"POST /office/upload":                                  {te, co},
		"GET /office/upload/template.csv":                      {te, co},
		"GET /office/upload/template.xlsx":                     {te, co},
		"GET /office/upload/columns.csv":                       {te, co},
		"GET /office/upload/{token}":                           {te, co},
		"POST /office/upload/{token}":                          {te, co},
		"GET /office/upload/{token}/verdicts.csv":              {te, co},
		"GET /office/indicator":                                {te, co},
		"POST /office/indicator":                               {te, co},
		"GET /office/slip":                                     {te, co},
		"POST /office/slip":                                    {te, co},
		"GET /office/bag":                                      {te, co},
		"GET /office/release":                                  {co},
		"POST /office/release":                                 {co},
		"GET /office/sheet":                                    {e, co},
		"POST /office/sheet":                                   {e, co},
		"GET /office/recall":                                   {co},
		"POST /office/recall":                                  {co},
		"GET /office/editions":                                 {co},
		"POST /office/editions":                                {co},
		"GET /office/editions/{number}/text":                   {co},
		"GET /office/boundaries":                               {co},
		"POST /office/boundaries":                              {co},
		"POST /office/boundaries/layers":                       {co},
		"POST /office/boundaries/layer":                        {co},
		"GET /office/boundaries/files/{token}":                 {co},
		"POST /office/boundaries/files/{token}":                {co},
		"GET /office/boundaries/staged/{ticket}":               {co},
		"POST /office/boundaries/staged/{ticket}":              {co},
		"GET /office/boundaries/staged/{ticket}/map.svg":       {co},
		"GET /office/boundaries/sets/{set}":                    {co},
		"GET /office/boundaries/sets/{set}/boundaries.geojson": {co},
		"GET /office/boundaries/sets/{set}/boundaries.gpkg":    {co},
	}
	maps.Copy(table, planPolicy)
	maps.Copy(table, pastPolicy)
	maps.Copy(table, annualPolicy)
	w := newWorld(t)
	require.Len(t, w.office.routes(), len(table))
	for _, route := range w.office.routes() {
		name := route.Method + " " + route.Path
		may, listed := table[name]
		require.True(t, listed, name)
		path := strings.NewReplacer("{id}", idText(w.lots.lots[0].ID), "{no}", "1").Replace(route.Path)
		t.Run(name, func(t *testing.T) {
			if route.May == account.Anyone {
				require.Nil(t, may)
				require.NotEqual(t, http.StatusForbidden, w.do(t, "", route.Method, path, nil).status)
				return
			}
			stranger := w.do(t, "", route.Method, path, nil)
			require.Equal(t, http.StatusSeeOther, stranger.status)
			require.True(t, strings.HasPrefix(stranger.header.Get("Location"), "/office/sign-in"))
			for _, role := range account.Roles {
				got := w.do(t, role, route.Method, path, nil)
				allowed := false
				for _, r := range may {
					allowed = allowed || r == role
				}
				if allowed {
					require.NotEqual(t, http.StatusForbidden, got.status, role)
				} else {
					require.Equal(t, http.StatusForbidden, got.status, role)
				}
				require.Equal(t, "no-store", got.header.Get("Cache-Control"))
				// The table here and the policy say the same.
				who := staffOf(role)
				require.Equal(t, allowed, who.May(route.May), "the policy for %s", role)
			}
		})
	}
}

// What was typed is shown again as text, wherever it was typed.
func TestTypedMarkupStaysText(t *testing.T) {
	const evil = `"><script>alert(1)</script>`
	w := newWorld(t)
	count := w.post(t, account.Technician, "/office/count", "find", codes[0].String()).fields("form[data-preview]")
	for path, names := range map[string][]string{
		"/office/sign-in":          {"login", "password", "to"},
		"/office/login-bags":       {"scan", "many", "batch", "do"},
		"/office/count":            {"soil", "water", "eggs1", "ml1", "eggs4", "ml4", "method", "as"},
		"/office/count/preview":    {"soil", "water", "eggs1", "ml1", "method"},
		"/office/lots":             {"token", "county", "bags", "sizes", "season"},
		"/office/money":            {"year", "do", "from", "bag", "postage", "fee", "sponsor", "amount", "budget-year", "month"},
		"/office/plan":             {"season", "bags", "least", "back", "reach", "weight-finds", "acres-1", "do"},
		"/office/queue":            {"item", "do", "code-" + idText(desk.ID{61})},
		"/office/trays":            {"day", "mail"},
		"/office/trays/1":          {"cup", "eggs-1"},
		"/office/quality":          {"code", "eggs", "ml", "kind"},
		"/office/look-ahead":       {"name", "note", "from", "winter.mean", "winter.low", "winter.source"},
		"/office/methods":          {"name", "soil", "suspension", "aliquot", "recovery", "eggs_per_cyst", "sieves"},
		"/office/reported":         {"code", "value", "unit", "bulk", "method", "replaces", "why"},
		"/office/indicator":        {"code", "check", "line-1", "line-7", "replaces"},
		"/office/slip":             {"code", "county", "township", "day", "standing", "crop", "acres", "token"},
		"/office/people":           {"login", "name", "role", "county"},
		"/office/me":               {"current", "password", "again", "off", "session", "address"},
		"/office/me/second":        {"code"},
		"/office/forgot":           {"login"},
		"/office/counter":          {"scan", "person", "code"},
		"/office/counter/answer":   {"code"},
		"/office/sign-in/second":   {"code", "to"},
		"/office/sign-off":         {"result"},
		"/office/boundaries/layer": {"was", "title", "kind", "position"},
		"/office/release":          {"cutoff", "stamp", "number"},
	} {
		for _, name := range names {
			form := []string{name, evil}
			if strings.HasPrefix(path, "/office/count") {
				form = with(count, name, evil)
			}
			if name == "many" {
				form = append(form, "do", "many")
			}
			got := w.post(t, account.Coordinator, path, form...) // do refuses markup that got through
			require.NotEqual(t, http.StatusInternalServerError, got.status, "%s %s", path, name)
		}
	}
	for _, path := range []string{"/office/sign-in?to=", "/office/sign-off?signed=", "/office/slip?code=", "/office/indicator?code=", "/office/reported?code=", "/office/count?again=", "/office/sign-off?followed=", "/office/bag?code=", "/office/lots?season=", "/office/money?year=", "/office/lookback?plan=", "/office/plan/1?done=", "/office/lots?county=", "/office/lots?bags=", "/office/money?more=", "/office/money?done=", "/office/lots?issued=", "/office/release?cutoff=",
		"/office/me?done=", "/office/people?done=", "/office/trail?from=", "/office/trail?who=", "/office/trail?page="} {
		got := w.get(t, account.Coordinator, path+"%22%3E%3Cscript%3Ealert(1)%3C/script%3E")
		require.NotEqual(t, http.StatusInternalServerError, got.status, path)
	}
	found := w.post(t, account.Coordinator, "/office/count", "find", evil)
	require.Equal(t, evil, found.attr("#find", "value"))
}

// Headings in order, one main heading, every input with a label, every id once.
func TestPagesAreWellFormed(t *testing.T) {
	w := newWorld(t)
	w.lab.put(codes[3], w.recipes.methods[0].Count(42), w.recipes.methods[0])
	w.trail.entries = someEntries()
	unmailed := w.get(t, "", "/office/forgot")
	w.mailing()
	w.mailbox.resets[account.Link{5}] = staffOf(account.Clerk).ID
	pages := map[string]answer{
		"unmailed":  unmailed,
		"forgot":    w.get(t, "", "/office/forgot"),
		"asked":     w.get(t, "", "/office/forgot?sent"),
		"reset":     w.get(t, "", "/office/reset/"+account.Link{5}.String()),
		"address":   w.post(t, account.Educator, "/office/me", "do", "address", "sure", "right", "address", "x"),
		"people":    w.get(t, account.Coordinator, "/office/people"),
		"invited":   w.post(t, account.Coordinator, "/office/people", "login", "new.one", "name", "New", "role", "technician"),
		"refused":   w.post(t, account.Coordinator, "/office/people", "do", "invite"),
		"person":    w.get(t, account.Coordinator, personPath(account.ID{7})),
		"closed":    w.get(t, account.Coordinator, personPath(account.ID{8})),
		"me":        w.get(t, account.Educator, "/office/me"),
		"enroll":    w.get(t, account.Educator, "/office/me/second"),
		"welcome":   w.get(t, "", "/office/welcome/"+account.Link{7}.String()),
		"second":    w.get(t, account.Clerk, "/office/sign-in/second"),
		"counter":   w.post(t, account.Clerk, "/office/counter", "scan", codes[4].String(), "person", string(codes[0])+".4"),
		"answer":    w.post(t, account.Clerk, "/office/counter/answer"),
		"trail":     w.get(t, account.Coordinator, "/office/trail"),
		"sign-in":   w.get(t, "", "/office/sign-in"),
		"ground":    w.post(t, account.Coordinator, "/office/boundaries/layer", "was", "Rivers", "title", "Towns", "kind", "river", "position", "1"),
		"set":       w.get(t, account.Coordinator, "/office/boundaries/sets/2"),
		"desk":      w.get(t, account.Coordinator, "/office"),
		"soil":      w.post(t, account.Technician, "/office/login-bags", "scan", codes[0].String()),
		"many":      w.post(t, account.Technician, "/office/login-bags", "do", "many", "many", "x\n"+codes[2].String()),
		"find":      w.get(t, account.Technician, "/office/count"),
		"count":     w.post(t, account.Technician, "/office/count", "find", codes[0].String()),
		"recount":   w.post(t, account.Technician, "/office/count", "find", codes[3].String()),
		"lots":      w.get(t, account.Coordinator, "/office/lots"),
		"money":     w.get(t, account.Coordinator, "/office/money?more=100"),
		"plan":      w.planned(t),
		"kept":      w.get(t, account.Coordinator, w.planned(t, "do", "save").header.Get("Location")),
		"unplanned": w.planned(t, "bags", "x"),
		"lookback":  w.lookedBack(t),
		"queue":     w.get(t, account.Coordinator, "/office/queue"),
		"trays":     w.get(t, account.Technician, "/office/trays"),
		"tray":      w.get(t, account.Technician, "/office/trays/1"),
		"quality":   w.get(t, account.Technician, "/office/quality"),
		"params":    w.post(t, account.Coordinator, "/office/look-ahead", "name", "x"),
		"methods":   w.get(t, account.Coordinator, "/office/methods"),
		"reported":  w.post(t, account.Technician, "/office/reported", "value", "x"),
		"indicator": w.post(t, account.Technician, "/office/indicator", "code", codes[0].String(), "check", "9 9", "line-1", "1", "do", "show"),
		"upload":    w.get(t, account.Technician, "/office/upload"),
		"slip":      w.post(t, account.Technician, "/office/slip", "code", "x"),
		"past":      w.get(t, account.Coordinator, "/office/history"),
		"analysis":  w.get(t, account.Coordinator, "/office/analysis?county=plover"),
		"history":   w.get(t, account.Technician, "/office/bag?code="+codes[0].String()),
		"sign-off":  w.get(t, account.Coordinator, "/office/sign-off"),
		"release":   w.get(t, account.Coordinator, "/office/release"),
		"released":  w.post(t, account.Coordinator, "/office/release", "cutoff", "2026-11-30", "confirm", "yes", "number", "12", "stamp", "5f3a"),
	}
	for name, page := range pages {
		t.Run(name, func(t *testing.T) {
			require.NotContains(t, page.body, "[", "a sentence is missing, or a bracket crept in")
			require.Equal(t, 1, page.Find("h1").Length())
			require.LessOrEqual(t, page.Find("[autofocus]").Length(), 1)
			ids := map[string]int{}
			level := 1
			for _, n := range page.Find("h1, h2, h3, [id]").Nodes {
				for _, a := range n.Attr {
					if a.Key == "id" {
						ids[a.Val]++
					}
				}
				if h, ok := map[string]int{"h1": 1, "h2": 2, "h3": 3}[n.Data]; ok {
					require.LessOrEqual(t, h, level+1)
					level = h
				}
			}
			for id, n := range ids {
				require.Equal(t, 1, n, "id %s", id)
			}
			for _, n := range page.Find("main input:not([type=hidden]), main select, main textarea").Nodes {
				input := page.FindNodes(n)
				id, _ := input.Attr("id")
				labeled := page.Find("label[for='"+id+"']").Length()+input.Closest("label").Length() > 0
				require.True(t, labeled, "an input without label: %s", id)
			}
			for _, n := range page.Find("[aria-describedby], [aria-labelledby]").Nodes {
				for _, a := range n.Attr {
					if a.Key == "aria-describedby" || a.Key == "aria-labelledby" {
						for _, id := range strings.Fields(a.Val) {
							require.Contains(t, ids, id)
						}
					}
				}
			}
			for _, n := range page.Find("table").Nodes {
				require.Equal(t, 1, page.FindNodes(n).Find("caption").Length())
				require.Zero(t, page.FindNodes(n).Find("th:not([scope])").Length())
			}
		})
	}
}
