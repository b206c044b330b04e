package office

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// Trail reads what staff did.
type Trail interface {
	Entries(ctx context.Context, q account.Query, most, skip int) ([]account.Entry, error)
}

const (
	trailPage = 100
	// trailMost bounds an export, in lines: years of a busy office.
	trailMost = 200_000
)

// trailView is the page of the trail.
type trailView struct {
	From, To, Who, Deed, County field
	People, Deeds, Counties     []choice
	Refused                     []refusal
	Rows                        []trailRow
	Newer, Older, File          string // addresses; empty for none
}

// trailRow is a line in words.
type trailRow struct{ Day, Who, Deed, County, Detail string }

// typedTrail is the filter as typed.
type typedTrail struct{ From, To, Who, Deed, County string }

func readTrail(v url.Values) typedTrail {
	return typedTrail{line(v, "from"), line(v, "to"), line(v, "who"), line(v, "deed"), line(v, "county")}
}

// values writes the filter for an address, without what was left out.
func (t typedTrail) values() url.Values {
	out := url.Values{}
	for name, v := range map[string]string{"from": t.From, "to": t.To, "who": t.Who, "deed": t.Deed, "county": t.County} {
		if v != "" {
			out.Set(name, v)
		}
	}
	return out
}

// trailForm is the filter against what it offers, and what it picks.
func (o *office) trailForm(ctx context.Context, t typedTrail) (v trailView, q account.Query, g gazetteer, err error) {
	places, err := o.Program.Places(ctx)
	if err != nil {
		return v, q, g, err
	}
	people, err := o.Roster.List(ctx, o.Today())
	if err != nil {
		return v, q, g, err
	}
	v.From, v.To = field{Name: "from", Value: t.From}, field{Name: "to", Value: t.To}
	v.Who, v.Deed, v.County = field{Name: "who", Value: t.Who}, field{Name: "deed", Value: t.Deed}, field{Name: "county", Value: t.County}
	q.From, v.From.Problem = o.trailDay(t.From)
	q.To, v.To.Problem = o.trailDay(t.To)
	for _, p := range people {
		v.People = append(v.People, choice{p.Login, p.Name, p.Login == t.Who})
	}
	for _, d := range account.Deeds {
		v.Deeds = append(v.Deeds, choice{string(d), o.Lang.SayOf("trail.deed", string(d)), string(d) == t.Deed})
	}
	for _, c := range counties(places) {
		id := strconv.Itoa(int(c.ID))
		v.Counties = append(v.Counties, choice{id, c.Name, id == t.County})
	}
	q.Who, q.Deed = picked(v.People), account.Deed(picked(v.Deeds))
	if id, ok := pickNumber(v.Counties, t.County); ok {
		q.County = place.ID(id)
	}
	v.Refused = refusals(v.From, v.To)
	return v, q, newGazetteer(places), nil
}

func picked(from []choice) string {
	for _, c := range from {
		if c.Chosen {
			return c.Value
		}
	}
	return ""
}

func (o *office) trailDay(typed string) (time.Time, string) {
	if typed == "" {
		return time.Time{}, ""
	}
	day, err := time.Parse(time.DateOnly, typed)
	if err != nil {
		return time.Time{}, o.Lang.Say("trail.problem.day")
	}
	return day, ""
}

func (o *office) trailShow(w http.ResponseWriter, r *http.Request) error {
	t := readTrail(r.URL.Query())
	v, q, g, err := o.trailForm(r.Context(), t)
	if err != nil {
		return err
	}
	p := o.page(r, o.Lang.Say("trail.title"))
	p.Wide = true
	if len(v.Refused) > 0 {
		return shell.Render(w, r, http.StatusUnprocessableEntity, trailPageOf(p, v))
	}
	page := pageNumber(r.URL.Query().Get("page"))
	list, err := o.Trail.Entries(r.Context(), q, trailPage+1, page*trailPage)
	if err != nil {
		return err
	}
	at := func(n int) string {
		to := t.values()
		if n > 0 {
			to.Set("page", strconv.Itoa(n))
		}
		return "/office/trail?" + to.Encode()
	}
	if page > 0 {
		v.Newer = at(page - 1)
	}
	if len(list) > trailPage {
		list, v.Older = list[:trailPage], at(page+1)
	}
	v.Rows = trailRows(o.Lang, g, list)
	v.File = "/office/trail.csv?" + t.values().Encode()
	return shell.Render(w, r, http.StatusOK, trailPageOf(p, v))
}

// pageNumber is how many pages to skip: from 0, and not beyond any use.
func pageNumber(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > trailMost/trailPage {
		return 0
	}
	return n
}

func trailRows(l *catalog.Lang, g gazetteer, list []account.Entry) []trailRow {
	var out []trailRow
	for _, e := range list {
		row := trailRow{Day: l.Date(e.Day), Who: e.Who, Deed: trailDeed(l, e.Deed), Detail: trailDetail(l, e.Deed, e.Detail)}
		if row.Who == "" {
			row.Who = l.Say("trail.command")
		}
		if e.County != 0 {
			row.County = g.name(l, e.County)
		}
		out = append(out, row)
	}
	return out
}

// trailDeed is a deed in words; one of a newer program is shown as it is named.
func trailDeed(l *catalog.Lang, d account.Deed) string {
	if !l.Has("trail.deed." + string(d)) {
		return string(d)
	}
	return l.SayOf("trail.deed", string(d))
}

// countedIn is what the number of a deed's line counts or names: trail.n.<key>.
var countedIn = map[account.Deed]string{
	account.DidHandOut: "bags", account.DidTakeBack: "bags", account.DidFollow: "bags", account.DidPlan: "bags",
	account.DidTie: "bundles", account.DidSign: "counts", account.DidUpload: "counts", account.DidHistory: "results",
	account.DidUnlink: "samples", account.DidEndSessions: "sessions", account.DidBudget: "year",
	account.DidScheme: "version", account.DidMethod: "version", account.DidOutlook: "version",
	account.DidRules: "set", account.DidBoundaries: "set",
}

// trailNumber is a line's number in words. A year or a version has no thousands to
// part; a number of a newer program's deed is a number.
func trailNumber(l *catalog.Lang, deed account.Deed, n int) string {
	switch unit := countedIn[deed]; unit {
	case "":
		return l.Say("trail.detail.n", "n", n)
	case "year", "version", "set":
		return l.SayOf("trail.named", unit, "n", strconv.Itoa(n))
	default:
		return l.Count("trail.n."+unit, n)
	}
}

func trailDetail(l *catalog.Lang, deed account.Deed, d account.Detail) string {
	var out []string
	if d.Person != "" {
		out = append(out, l.Say("trail.detail.person", "login", d.Person))
	}
	if d.Role != "" {
		out = append(out, l.SayOf("role", string(d.Role)))
	}
	if d.Number != 0 {
		out = append(out, trailNumber(l, deed, d.Number))
	}
	if d.Season != 0 {
		out = append(out, l.Say("trail.detail.season", "year", strconv.Itoa(d.Season)))
	}
	if d.Edition != 0 {
		out = append(out, l.Say("trail.detail.edition", "number", strconv.Itoa(d.Edition)))
	}
	return strings.Join(out, ", ")
}

// trailFile exports what the filter picks, whole, made before a byte is sent.
func (o *office) trailFile(w http.ResponseWriter, r *http.Request) error {
	v, q, g, err := o.trailForm(r.Context(), readTrail(r.URL.Query()))
	if err != nil {
		return err
	}
	if len(v.Refused) > 0 {
		return o.trailShow(w, r)
	}
	list, err := o.Trail.Entries(r.Context(), q, trailMost, 0)
	if err != nil {
		return err
	}
	var file bytes.Buffer
	if err := writeTrail(&file, o.Lang, g, list); err != nil {
		return err
	}
	return sendFile(w, r, kindTable, "trail-"+o.Today().Format(time.DateOnly)+".csv", file.Bytes())
}

// writeTrail writes the lines as a table.
func writeTrail(to *bytes.Buffer, l *catalog.Lang, g gazetteer, list []account.Entry) error {
	rows := [][]string{{"day", "who", "deed", "what", "county", "season", "n", "edition", "person", "role"}}
	for _, e := range list {
		county := ""
		if e.County != 0 {
			county = g.name(l, e.County)
		}
		rows = append(rows, []string{
			e.Day.Format(time.DateOnly), e.Who, string(e.Deed), trailDeed(l, e.Deed), county,
			numberOrNone(e.Season), numberOrNone(e.Number), numberOrNone(e.Edition), e.Person, string(e.Role),
		})
	}
	return writeTable(to, rows)
}

func numberOrNone(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
