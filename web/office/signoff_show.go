package office

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/web/shell"
)

// SignOff has results signed.
type SignOff interface {
	Unsigned(ctx context.Context) ([]desk.Unsigned, error)
	// Sign: fault.ErrConflict when one of them stands no longer.
	Sign(ctx context.Context, results []desk.ID, by account.ID, today time.Time) (desk.ID, int, error)
}

// Batches are what was signed.
type Batches interface {
	Batches(ctx context.Context, most int) ([]desk.Batch, error)
	// Slips: fault.ErrNotFound for no such batch.
	Slips(ctx context.Context, batch desk.ID) ([]desk.Signed, error)
	// FollowUp issues free bags for what is unconfirmed, once; fault.ErrNotFound
	// for no such batch.
	FollowUp(ctx context.Context, batch desk.ID, season int, today time.Time) ([]desk.ID, int, error)
}

// mostUnsigned is how many results one page holds; the others come when these
// are signed.
const mostUnsigned = 1000

// mostBatches is how many of the last batches are listed.
const mostBatches = 20

// signoffView is the page of results to be signed.
type signoffView struct {
	Held     []unsignedRow // each to be looked at
	Ready    []unsignedRow
	Left     int // not on this page
	Heads    []shell.ColumnHead
	Here     string // the page, with its tables sorted as they are
	Batches  []batchRow
	Done     string
	Slips    string // of what was just signed
	Problem  string
	Followed string
}

// unsignedRow is a result as the coordinator sees it.
type unsignedRow struct {
	ID, Code, Place, Day, Recipe  string
	Density, Limits, Level, Notes string
	Why                           []string // why it is held
	Ticked                        bool
}

type batchRow struct {
	Day, By, Path string
	Bags          int
	Follow        string // where follow-up bags are issued
	Unconfirmed   int
	New           bool
}

func (o *office) signoffShow(w http.ResponseWriter, r *http.Request) error {
	v := signoffView{}
	if n, err := strconv.Atoi(r.URL.Query().Get("followed")); err == nil && n > 0 && n < mostUnsigned*10 {
		v.Followed = o.Lang.Count("signoff.followed", n)
	}
	return o.showSignoff(w, r, http.StatusOK, v, nil, r.URL.Query().Get("signed"))
}

// showSignoff builds the page; ticked keeps what was ticked on a page that is
// shown again, and signed is the batch just made.
func (o *office) showSignoff(w http.ResponseWriter, r *http.Request, status int, v signoffView, ticked map[string]bool, signed string) error {
	list, err := o.SignOff.Unsigned(r.Context())
	if err != nil {
		return err
	}
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	scheme, err := o.Recipes.Scheme(r.Context())
	if err != nil {
		return err
	}
	batches, err := o.Batches.Batches(r.Context(), mostBatches)
	if err != nil {
		return err
	}
	v.sort(o.Lang, readSorting(r, "sort", "results"), list, scheme, newGazetteer(places))
	v.list(o.Lang, scheme, newGazetteer(places), list, ticked)
	v.batches(o.Lang, batches, signed)
	p := o.page(r, o.Lang.Say("signoff.title"))
	p.Wide = true
	return shell.Render(w, r, status, signoffPage(p, v))
}

// sort sorts all results, before they are cut to those of one page.
func (v *signoffView) sort(l *catalog.Lang, s sorting, list []desk.Unsigned, scheme assay.Scheme, g gazetteer) {
	v.Heads = arrange(&s, list,
		notSorted[desk.Unsigned](l.Say("signoff.col.sign"), false),
		byWords("code", l.Say("signoff.col.code"), func(u desk.Unsigned) string { return string(u.Code) }),
		byMost("density", l.Say("signoff.col.density"), func(u desk.Unsigned) (float64, bool) { return float64(u.Reading.Density), true }),
		notSorted[desk.Unsigned](l.Say("signoff.col.limits"), false),
		byNumber("level", l.Say("signoff.col.level"), func(u desk.Unsigned) int { return scheme.Class(u.Reading).Rank }).left(),
		byWords("place", l.Say("signoff.col.place"), func(u desk.Unsigned) string { return g.name(l, u.County) + " " + g.name(l, u.Place) }),
		inOrder[desk.Unsigned](l.Say("signoff.col.day"), false, false),
		notSorted[desk.Unsigned](l.Say("signoff.col.notes"), false))
	v.Here = s.here()
}

// list sorts results into those that ask for a look and those that do not.
func (v *signoffView) list(l *catalog.Lang, s assay.Scheme, g gazetteer, list []desk.Unsigned, ticked map[string]bool) {
	if v.Left = len(list) - mostUnsigned; v.Left > 0 {
		list = list[:mostUnsigned]
	}
	for _, u := range list {
		row := newUnsignedRow(l, s, g, u)
		if len(u.Held) > 0 {
			row.Ticked = ticked[row.ID]
			v.Held = append(v.Held, row)
			continue
		}
		row.Ticked = ticked == nil || ticked[row.ID]
		v.Ready = append(v.Ready, row)
	}
}

func newUnsignedRow(l *catalog.Lang, s assay.Scheme, g gazetteer, u desk.Unsigned) unsignedRow {
	row := unsignedRow{
		ID: idText(u.Result), Code: u.Code.String(), Place: g.name(l, u.Place), Day: l.Date(u.Day),
		Recipe: methodName(l, u.Method), Density: eggs(l, float64(u.Reading.Density)), Level: l.SayOf("level", s.Class(u.Reading).Name),
		Limits: l.Say("signoff.nolimits"),
	}
	if u.Place != u.County {
		row.Place = l.Say("signoff.place", "township", row.Place, "county", g.name(l, u.County))
	}
	if u.Reading.LimitsKnown {
		row.Limits = l.Say("signoff.limits", "low", eggs(l, u.Reading.Limits.Low), "high", eggs(l, u.Reading.Limits.High))
	}
	switch {
	case u.Why != "" && u.Before:
		row.Notes = l.Say("signoff.corrected.read", "why", l.SayOf("correction", string(u.Why)))
	case u.Why != "":
		row.Notes = l.Say("signoff.corrected", "why", l.SayOf("correction", string(u.Why)))
	}
	for _, h := range u.Held {
		row.Why = append(row.Why, l.SayOf("signoff.hold", string(h)))
	}
	return row
}

func (v *signoffView) batches(l *catalog.Lang, batches []desk.Batch, signed string) {
	for _, b := range batches {
		row := batchRow{
			Day: l.Date(b.Day), By: b.By, Bags: b.Bags, Path: "/office/sign-off/" + idText(b.ID) + "/slips.pdf",
			Unconfirmed: b.Unconfirmed, Follow: "/office/sign-off/" + idText(b.ID) + "/follow-up", New: idText(b.ID) == signed,
		}
		if row.New {
			v.Done, v.Slips = l.Count("signoff.done", b.Bags), row.Path
		}
		v.Batches = append(v.Batches, row)
	}
}
