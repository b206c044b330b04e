package office

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"sync"

	"sixmile/internal/catalog"
	"sixmile/internal/edge"
	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// Newest reads the newest released edition: what the public sees, and no more.
// A version's number is 0 before the first.
type Newest interface {
	Version(ctx context.Context) (gazette.Version, error)
	Issue(ctx context.Context, no int) (*gazette.Issue, error)
}

// frontKeeper keeps what was worked out of the newest edition.
type frontKeeper struct {
	mu   sync.Mutex
	of   gazette.Version
	view *edgeShown
}

// edgeShown is the page of where finds meet none found.
type edgeShown struct {
	Edition string // "" before the first
	Head    string // the front in a sentence, or that there is too little to say
	Said    bool
	Facts   []edgeFact
	Short   []string
	Rows    []windowRow
	Heads   []shell.ColumnHead // of the table of windows
	Season  string
}

type edgeFact struct{ Name, Value, Range string }

// windowRow is between which falls it was first found in a township.
type windowRow struct {
	County, Place, After, By, Looked string

	of edge.Window
}

func (o *office) edgeShow(w http.ResponseWriter, r *http.Request) error {
	v, err := o.fronts.read(r.Context(), o.Newest, o.Lang)
	if err != nil {
		return err
	}
	return shell.Render(w, r, http.StatusOK, edgePage(o.page(r, o.Lang.Say("edge.title")), v.sorted(o.Lang, readSorting(r, "sort", "windows"))))
}

// read works the page out once for an edition.
func (k *frontKeeper) read(ctx context.Context, newest Newest, l *catalog.Lang) (*edgeShown, error) {
	version, err := newest.Version(ctx)
	if err != nil {
		return nil, fmt.Errorf("newest edition: %w", err)
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.view != nil && k.of == version {
		return k.view, nil
	}
	issue, err := newest.Issue(ctx, version.Number)
	if err != nil {
		return nil, fmt.Errorf("edition %d: %w", version.Number, err)
	}
	x, err := gazette.NewIndex(issue)
	if err != nil {
		return nil, fmt.Errorf("edition %d: %w", version.Number, err)
	}
	v, err := newEdgeShown(l, x)
	if err != nil {
		return nil, fmt.Errorf("edition %d: %w", version.Number, err)
	}
	k.of, k.view = version, v
	return v, nil
}

// sorted is the page with its table of windows sorted; what is kept stays as it is.
func (v edgeShown) sorted(l *catalog.Lang, s sorting) edgeShown {
	v.Rows = slices.Clone(v.Rows)
	v.Heads = arrange(&s, v.Rows,
		inOrder[windowRow](l.Say("edge.col.county"), false, false),
		byWords("place", l.Say("edge.col.place"), func(r windowRow) string { return r.Place }),
		byMost("after", l.Say("edge.col.after"), func(r windowRow) (float64, bool) { return float64(r.of.After), r.of.After > 0 }).left(),
		byMost("looked", l.Say("edge.col.looked"), func(r windowRow) (float64, bool) { return float64(r.of.Looked), r.of.Looked > 0 }),
		byMost("by", l.Say("edge.col.by"), func(r windowRow) (float64, bool) { return float64(r.of.By), r.of.Found }).left())
	return v
}

func newEdgeShown(l *catalog.Lang, x *gazette.Index) (*edgeShown, error) {
	e, err := x.Edge()
	if err != nil {
		return nil, err
	}
	v := &edgeShown{Season: strconv.Itoa(x.Issue.Edition.Season), Head: l.Say("edge.front.little")}
	if x.Issue.Edition.Number > 0 {
		v.Edition = l.Say("edge.edition", "month", l.MonthYear(x.Issue.Edition.Released), "code", x.Issue.Edition.Code)
	}
	if e.Surface != nil {
		// What is too little to say is said above.
		if f, err := e.Surface.Front(); err == nil {
			v.tell(l, f)
		}
	}
	v.windows(l, x, e)
	return v, nil
}

// tell puts the front into words.
func (v *edgeShown) tell(l *catalog.Lang, f edge.Front) {
	toward := l.SayOf("edge.toward", compass(f.Bearing))
	key := "edge.front.on"
	if f.Pace < 0 {
		key = "edge.front.back"
	}
	v.Said = true
	v.Head = l.Say(key, "toward", toward, "from", strconv.Itoa(f.From), "to", strconv.Itoa(f.Through), "pace", tenths(math.Abs(f.Pace)))
	v.Facts = []edgeFact{
		{l.Say("edge.fact.pace"), l.Say("edge.miles", "n", tenths(f.Pace)), l.Say("edge.range", "low", tenths(f.PaceIn.Low), "high", tenths(f.PaceIn.High))},
		{l.Say("edge.fact.toward"), l.Say("edge.degrees", "n", int(math.Round(f.Bearing)), "toward", toward), l.Say("edge.within", "n", int(math.Ceil(f.Within)))},
		{l.Say("edge.fact.rise"), l.Say("edge.points.year", "n", tenths(100*f.Rise)), ""},
		{l.Say("edge.fact.fall"), l.Say("edge.points.mile", "n", tenths(100*f.Fall)), ""},
	}
}

func tenths(f float64) string { return strconv.FormatFloat(f, 'f', 1, 64) }

// compass is the eighth of the circle that a bearing lies in.
func compass(bearing float64) string {
	return [...]string{"north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest"}[int(math.Round(bearing/45))%8]
}

// windows lists the arrival windows, county by county.
func (v *edgeShown) windows(l *catalog.Lang, x *gazette.Index, e *gazette.EdgeView) {
	type home struct{ county, place string }
	homes := map[int]home{}
	i := 0
	for _, c := range x.Issue.Counties {
		for _, t := range c.Townships {
			homes[i] = home{c.Name, t.Label()}
			i++
		}
	}
	between, atFirst, none := 0, 0, 0
	for _, w := range edge.Windows(e.Survey) {
		row := windowRow{County: homes[w.Place].county, Place: homes[w.Place].place, By: l.Say("edge.window.none"), After: l.Say("edge.window.first"), of: w}
		if w.Looked > 0 {
			row.Looked = l.Number(w.Looked)
		}
		if w.After > 0 {
			row.After = strconv.Itoa(w.After)
		}
		switch {
		case !w.Found:
			none++
		case w.After > 0:
			between++
			row.By = strconv.Itoa(w.By)
		default:
			atFirst++
			row.By = strconv.Itoa(w.By)
		}
		v.Rows = append(v.Rows, row)
	}
	if len(v.Rows) > 0 {
		v.Short = []string{l.Count("edge.short.between", between), l.Count("edge.short.first", atFirst), l.Count("edge.short.none", none)}
	}
}
