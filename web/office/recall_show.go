package office

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/a-h/templ"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// Recalls takes groups of results back and brings them out again.
type Recalls interface {
	// Groups are a county's groups, newest first; of county 0 all that are taken back.
	Groups(ctx context.Context, county place.ID, day time.Time) ([]desk.Group, error)
	// Recall: fault.ErrNotFound when there is no such group, fault.ErrConflict when
	// it does not stand.
	Recall(ctx context.Context, of edition.Ref, why desk.RecallReason, day time.Time, by account.ID) error
}

// Errata brings out again what was put right.
type Errata interface {
	// Errata is without groups when none can be released.
	Errata(ctx context.Context, day time.Time) (desk.Again, error)
	// Amend: fault.ErrConflict when it would differ from what the stamp was given for.
	Amend(ctx context.Context, number int, day time.Time, stamp string, by account.ID) (gazette.Edition, error)
}

// recallView is the page on which figures are taken back.
type recallView struct {
	Refused  []refusal
	Done     string
	Changed  string // why the erratum is shown anew
	Counties []option
	County   string // chosen; its value
	Name     string
	Groups   []groupRow // of the county, that stand
	Heads    []shell.ColumnHead
	Here     string // the page, with its table sorted as it is

	Group   field
	Reason  field
	Confirm field
	Reasons []option

	Back []groupRow // taken back, of all counties

	Erratum erratumView
}

// erratumView is what can come out again today.
type erratumView struct {
	Number, Stamp string
	Groups        []groupRow
	Audit         []string
	Confirm       field // named "sure"
}

// Releasable tells that there is a form to release it.
func (v erratumView) Releasable() bool { return len(v.Groups) > 0 && len(v.Audit) == 0 }

// groupRow is a group of results in a list.
type groupRow struct {
	Value                  string // edition/number
	County, What, Released string
	Bags, Senders          string
	Falls                  string
	Day, Reason, Why       string // of those taken back
	Chosen                 bool

	samples int
}

// recallShow lists a county's groups and what is taken back.
func (o *office) recallShow(w http.ResponseWriter, r *http.Request) error {
	return o.showRecall(w, r, http.StatusOK, r.URL.Query().Get("county"), recallView{})
}

func (o *office) showRecall(w http.ResponseWriter, r *http.Request, status int, county string, v recallView) error {
	ctx := r.Context()
	places, err := o.Program.Places(ctx)
	if err != nil {
		return err
	}
	g := newGazetteer(places)
	v.Group.Name, v.Reason.Name, v.Confirm.Name, v.Erratum.Confirm.Name = "group", "reason", "confirm", "sure"
	v.Reasons = reasons(o.Lang)
	for _, c := range counties(places) {
		v.Counties = append(v.Counties, option{strconv.Itoa(int(c.ID)), c.Label()})
		if strconv.Itoa(int(c.ID)) == county {
			v.County, v.Name = county, c.Label()
			if v.Groups, err = o.groups(ctx, g, c.ID, v.Group.Value); err != nil {
				return err
			}
		}
	}
	v.sort(o.Lang, readSorting(r, "sort", "groups"))
	if v.Back, err = o.groups(ctx, g, 0, ""); err != nil {
		return err
	}
	if len(v.Back) > 0 {
		again, err := o.Errata.Errata(ctx, o.Today())
		if err != nil {
			return err
		}
		v.Erratum.Number, v.Erratum.Stamp, v.Erratum.Audit = strconv.Itoa(again.Number), again.Stamp, again.Audit
		for _, group := range again.Groups {
			v.Erratum.Groups = append(v.Erratum.Groups, newGroupRow(o.Lang, g, group))
		}
	}
	v.refuse(o.Lang)
	p := o.page(r, o.Lang.Say("recall.title"))
	p.Wide = true
	return shell.Render(w, r, status, recallPage(p, v))
}

// refuse lists what is wrong. Where there is nothing to take back or to release
// any more there are no fields to lead to either.
func (v *recallView) refuse(l *catalog.Lang) {
	group, erratum := refusals(v.Group, v.Reason, v.Confirm), refusals(v.Erratum.Confirm)
	if len(group) > 0 && len(v.Groups) == 0 {
		group = []refusal{{Text: l.Say("recall.problem.nothing")}}
	}
	if len(erratum) > 0 && !v.Erratum.Releasable() {
		erratum = []refusal{{Text: l.Say("recall.problem.noerratum")}}
	}
	v.Refused = append(group, erratum...)
}

// sort sorts the table of a county's groups.
func (v *recallView) sort(l *catalog.Lang, s sorting) {
	if v.County != "" {
		s.query.Set("county", v.County)
	}
	v.Heads = arrange(&s, v.Groups,
		byWords("what", l.Say("recall.col.what"), func(g groupRow) string { return g.What }),
		inOrder[groupRow](l.Say("recall.col.released"), false, true),
		notSorted[groupRow](l.Say("recall.col.falls"), false),
		byNumber("bags", l.Say("recall.col.bags"), func(g groupRow) int { return g.samples }),
		notSorted[groupRow](l.Say("recall.col.senders"), false))
	v.Here = s.here()
}

// groups are a county's that stand, or those taken back when county is 0.
func (o *office) groups(ctx context.Context, g gazetteer, county place.ID, chosen string) (out []groupRow, err error) {
	all, err := o.Recalls.Groups(ctx, county, o.Today())
	if err != nil {
		return nil, err
	}
	for _, group := range all {
		if county != 0 && group.Recalled {
			continue
		}
		row := newGroupRow(o.Lang, g, group)
		row.Chosen = row.Value == chosen
		out = append(out, row)
	}
	return out, nil
}

func newGroupRow(l *catalog.Lang, g gazetteer, group desk.Group) groupRow {
	row := groupRow{
		Value:  fmt.Sprintf("%d/%d", group.Edition, group.ID),
		County: g.name(l, group.County), Released: l.Date(group.Released),
		Bags: l.Number(group.Samples), samples: group.Samples, Senders: l.Say("recall.senders", "n", group.Senders),
		Falls: l.Say("recall.falls.upto", "year", strconv.Itoa(group.Window.Through)),
	}
	if group.Window.ThisFall {
		row.Falls = l.Say("recall.falls.one", "year", strconv.Itoa(group.Window.Through))
	}
	switch group.Kind {
	case edition.KindTownship:
		row.What = joinNames(l, g, group.Places)
	case edition.KindDistrict:
		row.What = l.Say("release.joined", "names", joinNames(l, g, group.Places))
	case edition.KindRemainder:
		row.What = l.Say("release.remainder")
	}
	if group.Recalled {
		row.Day, row.Reason = l.Date(group.Day), l.SayOf("recall.reason", string(group.Reason))
		row.Why = l.Say("recall.ready")
		if !group.Ready {
			row.Why = l.SayOf("recall.stays", string(group.Why))
		}
	}
	return row
}

// readReason reads why figures are taken back.
func readReason(l *catalog.Lang, f *field) (desk.RecallReason, bool) {
	for _, r := range desk.RecallReasons {
		if string(r) == f.Value {
			return r, true
		}
	}
	f.Value, f.Problem = "", l.Say("recall.problem.reason")
	return "", false
}

// readGroup reads which group: edition and number.
func readGroup(s string) (edition.Ref, error) {
	no, id, _ := strings.Cut(s, "/")
	e, err1 := strconv.Atoi(no)
	n, err2 := strconv.Atoi(id)
	return edition.Ref{Edition: e, ID: n}, errors.Join(err1, err2)
}

// invalid ties a field to its problem.
func invalid(f field) templ.Attributes {
	if f.Problem == "" {
		return nil
	}
	return templ.Attributes{"aria-invalid": "true", "aria-describedby": f.Name + "-wrong"}
}
