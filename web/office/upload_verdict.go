package office

import (
	"context"
	"slices"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/tabular"
)

// Problems of a row beside those of its cells: what the office knows of its bag.
const (
	bagUnknown  tabular.Problem = "bag_unknown"
	bagVoid     tabular.Problem = "bag_void"
	bagNoForm   tabular.Problem = "bag_no_form"
	bagReplaces tabular.Problem = "bag_replaces" // another result stands, and no reason was given

	sameAgain tabular.Problem = "same_again" // no problem: it stands already
	replaced  tabular.Problem = "replaced"   // no problem: it takes another's place
)

// badRow is a row that cannot be stored as it is.
type badRow struct {
	Line     int
	Code     string
	Problems []cellProblem
}

type cellProblem struct {
	Field   tabular.Field
	Problem tabular.Problem
	Cell    string
}

// mostBad is how many bad rows are kept for the page; the file of verdicts has
// them all.
const mostBad = 200

// verdict is what a file comes to.
type verdict struct {
	Rows, New, Same, Replaces, Bad int
	Kinds                          map[tabular.Problem]int
	First                          []badRow
	Taken                          time.Time // a file that says the same was taken then
	digest                         string
	fates                          map[int]tabular.Problem // by line: what is to be said of rows that are whole
	results                        []desk.Keyed            // to be stored
}

// ready reports whether the file can be taken as it is.
func (v verdict) ready() bool { return v.Bad == 0 && len(v.results) > 0 && v.Taken.IsZero() }

// read gives every row of a draft its verdict.
func (o *office) read(ctx context.Context, d *draft) error {
	now := d.look()
	v := verdict{Kinds: map[tabular.Problem]int{}, fates: map[int]tabular.Problem{}}
	var digest tabular.Digest
	var whole []tabular.Row
	err := now.sheet.Each(ctx, now.mapping, now.with, func(r tabular.Row) error {
		if v.Rows++; v.Rows%500 == 0 {
			d.set(func(d *draftState) { d.Done = v.Rows })
		}
		if !r.OK() {
			v.refuse(r)
			return nil
		}
		digest.Add(r.Entry)
		r.Cells = nil
		whole = append(whole, r)
		return nil
	})
	if err != nil {
		return err
	}
	codes := make([]bag.Code, len(whole))
	for i, r := range whole {
		codes[i] = r.Entry.Code
	}
	targets, err := o.Uploads.Targets(ctx, codes)
	if err != nil {
		return err
	}
	for _, r := range whole {
		v.judge(r, targets, now.why)
	}
	slices.SortFunc(v.First, func(a, b badRow) int { return a.Line - b.Line })
	v.digest = digest.Sum()
	if v.Bad == 0 {
		if v.Taken, err = o.Uploads.Taken(ctx, v.digest); err != nil {
			return err
		}
	}
	d.set(func(d *draftState) { d.Verdict, d.Done = v, v.Rows })
	return nil
}

// refuse notes a row whose cells cannot stand.
func (v *verdict) refuse(r tabular.Row) {
	bad := badRow{Line: r.Line, Code: r.Entry.Code.String()}
	for _, f := range tabular.Fields() {
		if p, there := r.Problems[f]; there {
			bad.Problems = append(bad.Problems, cellProblem{Field: f, Problem: p})
		}
	}
	v.add(bad)
}

func (v *verdict) add(bad badRow) {
	v.Bad++
	for _, p := range bad.Problems {
		v.Kinds[p.Problem]++
	}
	if len(v.First) < mostBad {
		v.First = append(v.First, bad)
	}
}

// judge sets a row that is whole beside what stands for its bag.
func (v *verdict) judge(r tabular.Row, targets desk.Targets, why assay.Correction) {
	k, p := judged(r.Entry, targets, why)
	switch {
	case p != "":
		v.fates[r.Line] = p
		v.add(badRow{Line: r.Line, Code: r.Entry.Code.String(), Problems: []cellProblem{{Field: tabular.Code, Problem: p}}})
		return
	case k.Code == "":
		v.fates[r.Line] = sameAgain
		v.Same++
		return
	case k.Why != "":
		v.fates[r.Line] = replaced
		v.Replaces++
	default:
		v.New++
	}
	v.results = append(v.results, k)
}

// judged is what a row comes to: a result to be stored, none where it stands
// already, or a problem.
func judged(e tabular.Entry, targets desk.Targets, why assay.Correction) (desk.Keyed, tabular.Problem) {
	k := desk.Keyed{Code: e.Code, Method: e.Method, Count: e.Count, Report: e.Report, Day: e.Day}
	t, issued := targets[e.Code]
	switch {
	case !issued:
		return k, bagUnknown
	case t.Void:
		return k, bagVoid
	case !t.Place:
		return k, bagNoForm
	case t.Same(k):
		return desk.Keyed{}, ""
	case t.Head != (desk.ID{}) && why == "":
		return k, bagReplaces
	case t.Head != (desk.ID{}):
		k.Replaces, k.Why = t.Head, why
	}
	return k, ""
}
