package office

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// releaseView is a preview in words.
type releaseView struct {
	Form    releaseForm
	Refused []refusal

	Shown   bool // there is a preview
	Number  string
	Levels  string // title of its level table
	IsFirst bool   // nothing has been released yet
	Stamp   string
	Season  string
	Cutoff  string
	NextDay string
	TooSoon string // why it cannot be released today; empty when it can

	Bags         int
	Townships    int
	Districts    int
	Remainders   int
	First        []countyPlaces
	Changed      []countyPlaces
	Joined       []draftRow
	Waiting      []waitRow
	WaitingTotal int

	JoinedHeads, WaitingHeads []shell.ColumnHead // of their tables

	// Audit is what the audit found an outsider could work out; then it cannot
	// be released.
	Audit []string
}

// countyPlaces are places of one county by name.
type countyPlaces struct {
	County string
	Places []string
}

// draftRow is a group of results of joined townships or of a county's rest.
type draftRow struct {
	County, What  string
	Bags, Senders int
}

// waitRow is what keeps a place's results waiting.
type waitRow struct {
	County, Place                  string
	Waiting, Uncounted, SenderTies int
	Reasons                        []string
}

func newReleaseView(l *catalog.Lang, g gazetteer, p desk.Preview) releaseView {
	v := releaseView{
		Shown: true, Number: strconv.Itoa(p.Number), Levels: p.Levels, IsFirst: p.Number == 1, Stamp: p.Stamp, Season: strconv.Itoa(p.Season),
		Audit: p.Audit, Cutoff: l.Date(p.Cutoff), First: byCounty(l, g, p.FirstShown), Changed: byCounty(l, g, p.Changed),
	}
	if p.Day.Before(p.NextDay) {
		v.TooSoon = l.Say("release.toosoon.until", "day", l.Date(p.NextDay))
	}
	for _, d := range p.Drafts {
		v.Bags += len(d.Members)
		v.addDraft(l, g, d)
	}
	for _, w := range p.Waiting {
		v.WaitingTotal += w.Waiting
		v.Waiting = append(v.Waiting, newWaitRow(l, g, w))
	}
	slices.SortStableFunc(v.Joined, func(a, b draftRow) int { return cmp.Compare(a.County, b.County) })
	slices.SortStableFunc(v.Waiting, func(a, b waitRow) int { return cmp.Compare(a.County, b.County) })
	return v
}

// Releasable tells that there is a form to release what is shown.
func (v *releaseView) Releasable() bool { return v.Shown && v.TooSoon == "" && len(v.Audit) == 0 }

// refuse says why nothing was released. Where it cannot be released at all there
// is no box to tick.
func (v *releaseView) refuse(l *catalog.Lang) {
	switch {
	case v.Releasable():
		v.Refused = refusals(v.Form.Confirm)
	case v.Form.Pressed && v.Form.Changed == "":
		v.Refused = []refusal{{Text: l.Say("release.problem.cannot")}}
	}
}

// sort sorts the tables of what is joined and of what waits.
func (v *releaseView) sort(l *catalog.Lang, joined, waiting sorting) {
	v.JoinedHeads = arrange(&joined, v.Joined,
		inOrder[draftRow](l.Say("release.col.county"), false, false),
		notSorted[draftRow](l.Say("release.col.what"), false),
		byNumber("bags", l.Say("release.col.bags"), func(r draftRow) int { return r.Bags }),
		byNumber("senders", l.Say("release.col.senders"), func(r draftRow) int { return r.Senders }))
	v.WaitingHeads = arrange(&waiting, v.Waiting,
		inOrder[waitRow](l.Say("release.col.county"), false, false),
		byWords("place", l.Say("release.col.place"), func(r waitRow) string { return r.Place }),
		byNumber("waiting", l.Say("release.col.waiting"), func(r waitRow) int { return r.Waiting }),
		byNumber("uncounted", l.Say("release.col.uncounted"), func(r waitRow) int { return r.Uncounted }),
		byNumber("senders", l.Say("release.col.senders"), func(r waitRow) int { return r.SenderTies }),
		byWords("reasons", l.Say("release.col.reasons"), func(r waitRow) string { return strings.Join(r.Reasons, " ") }))
}

func (v *releaseView) addDraft(l *catalog.Lang, g gazetteer, d edition.Draft) {
	row := draftRow{County: g.name(l, d.County), Bags: len(d.Members), Senders: d.Senders}
	switch d.Kind {
	case edition.KindTownship:
		v.Townships++
		return
	case edition.KindDistrict:
		v.Districts++
		row.What = l.Say("release.joined", "names", joinNames(l, g, d.Places))
	case edition.KindRemainder:
		v.Remainders++
		row.What = l.Say("release.remainder")
	}
	v.Joined = append(v.Joined, row)
}

func newWaitRow(l *catalog.Lang, g gazetteer, w edition.Lack) waitRow {
	row := waitRow{
		County: g.name(l, w.County), Place: g.name(l, w.Place),
		Waiting: w.Waiting, Uncounted: w.Uncounted, SenderTies: w.Senders,
	}
	if w.Place == w.County {
		row.Place = l.Say("release.countyonly")
	}
	for _, r := range w.Reasons {
		row.Reasons = append(row.Reasons, l.SayOf("release.reason", string(r)))
	}
	return row
}

// byCounty gathers places under their counties, by name.
func byCounty(l *catalog.Lang, g gazetteer, ids []place.ID) []countyPlaces {
	at := map[string][]string{}
	for _, id := range ids {
		county := g.name(l, g[id].County)
		at[county] = append(at[county], g.name(l, id))
	}
	var out []countyPlaces
	for county, names := range at {
		slices.Sort(names)
		out = append(out, countyPlaces{county, names})
	}
	slices.SortFunc(out, func(a, b countyPlaces) int { return cmp.Compare(a.County, b.County) })
	return out
}

func joinNames(l *catalog.Lang, g gazetteer, ids []place.ID) string {
	var names string
	for i, id := range ids {
		if i > 0 {
			names += ", "
		}
		names += g.name(l, id)
	}
	return names
}

// countPlaces is how many places the counties have together.
func countPlaces(list []countyPlaces) int {
	n := 0
	for _, c := range list {
		n += len(c.Places)
	}
	return n
}
