package office

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"sync"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/outlook"
	"sixmile/internal/place"
	"sixmile/internal/plan"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// Planning is what the plan's pages stand on. What a plan is made from comes from
// Figures alone, which are public.
type Planning struct {
	Plans   Plans
	Handed  Handed
	Figures Figures
}

// Plans keeps plans.
type Plans interface {
	Save(ctx context.Context, p plan.Saved, by account.ID) (no int, err error)
	// List is newest first, without counties and places.
	List(ctx context.Context) ([]plan.Saved, error)
	// Get: fault.ErrNotFound for no such plan.
	Get(ctx context.Context, no int) (plan.Saved, error)
}

// Handed counts bags.
type Handed interface {
	Issued(ctx context.Context, season int) (map[place.ID]int, error)
	Backs(ctx context.Context, season int, today time.Time) (issued, back int, err error)
}

// Figures reads released editions.
type Figures interface {
	Version(ctx context.Context) (gazette.Version, error)
	Issue(ctx context.Context, no int) (*gazette.Issue, error)
}

// almanac keeps the newest edition's figures, which take a second to work out.
type almanac struct {
	mu      sync.Mutex
	version gazette.Version
	index   *gazette.Index
}

// newest is the newest edition that stands. fault.ErrNotFound before the first.
func (a *almanac) newest(ctx context.Context, f Figures) (*gazette.Index, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	v, err := f.Version(ctx)
	if err != nil {
		return nil, err
	}
	if v.Number == 0 {
		return nil, fault.ErrNotFound
	}
	if a.index != nil && a.version == v {
		return a.index, nil
	}
	issue, err := f.Issue(ctx, v.Number)
	if err != nil {
		return nil, err
	}
	index, err := gazette.NewIndex(issue)
	if err != nil {
		return nil, err
	}
	a.version, a.index = v, index
	return index, nil
}

// planFacts is what the form is about.
type planFacts struct {
	index    *gazette.Index
	seasons  []int // that a plan can be for
	counties []place.Place
	list     []plan.Saved
	back     int // percent of bags that came back in the last fall that is over
	backOf   int // which fall that was; 0 for none
}

// usualBack is the percent of bags that the form starts with before any fall is
// over. Common practice of nobody: no source.
const usualBack = 60

func (o *office) planFacts(ctx context.Context) (f planFacts, err error) {
	if f.index, err = o.almanac.newest(ctx, o.Figures); err != nil {
		return f, err
	}
	places, err := o.Program.Places(ctx)
	if err != nil {
		return f, err
	}
	f.counties = counties(places)
	seasons, err := o.Program.Seasons(ctx)
	if err != nil {
		return f, err
	}
	f.seasons = planSeasons(seasons, f.index.Issue.Edition.Season, o.Today())
	if f.list, err = o.Plans.List(ctx); err != nil {
		return f, err
	}
	f.back = usualBack
	for _, s := range seasons { // newest first
		if !s.Closes.Before(o.Today()) {
			continue
		}
		issued, back, err := o.Handed.Backs(ctx, s.Year, o.Today())
		if err != nil {
			return f, err
		}
		if issued > 0 && back > 0 {
			f.back, f.backOf = max(1, (200*back+issued)/(2*issued)), s.Year
			break
		}
	}
	return f, nil
}

// planSeasons are the falls a plan can be for: the next one first, and the one
// that is on.
func planSeasons(seasons []sample.Season, released int, today time.Time) []int {
	last := released
	if s, ok := currentSeason(seasons, today); ok {
		last = max(last, s.Year)
	}
	if last > released {
		return []int{last + 1, last}
	}
	return []int{last + 1}
}

func (o *office) planShow(w http.ResponseWriter, r *http.Request) error {
	f, err := o.planFacts(r.Context())
	if errors.Is(err, fault.ErrNotFound) {
		return o.showPlan(w, r, http.StatusOK, planView{None: true})
	}
	if err != nil {
		return err
	}
	return o.showPlan(w, r, http.StatusOK, newPlanForm(o.Lang, f, startTyped(f), nil))
}

func (o *office) showPlan(w http.ResponseWriter, r *http.Request, status int, v planView) error {
	p := o.page(r, o.Lang.Say("plan.title"))
	p.Wide = true
	return shell.Render(w, r, status, planPage(p, v))
}

// bagPlanPost works a plan out, and keeps it when that is asked for.
func (o *office) bagPlanPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	f, err := o.planFacts(r.Context())
	if err != nil {
		return err
	}
	t := readPlanTyped(form, f)
	a, bad := readPlan(o.Lang, t, f)
	if len(bad) > 0 {
		return o.showPlan(w, r, http.StatusUnprocessableEntity, newPlanForm(o.Lang, f, t, bad))
	}
	ahead, err := outlook.Of(f.index, a.acres)
	if err != nil {
		return err
	}
	p, err := plan.New(ahead.Places, a.ask)
	if err != nil {
		return err
	}
	if form.Get("do") == "save" {
		no, err := o.Plans.Save(r.Context(), plan.Saved{
			Season: a.season, Edition: f.index.Issue.Edition.Number, Day: o.Today(), Plan: p, Given: ahead.Places,
		}, shell.Staff(r).ID)
		if err != nil {
			return err
		}
		o.Log.Info("plan saved", "season", a.season, "bags", a.ask.Bags)
		http.Redirect(w, r, planPath(no)+"?done=saved", http.StatusSeeOther)
		return nil
	}
	before, err := o.Handed.Issued(r.Context(), a.season-1)
	if err != nil {
		return err
	}
	v := newPlanForm(o.Lang, f, t, nil)
	v.addResult(o.Lang, f.index, a.season, p, ahead, before)
	return o.showPlan(w, r, http.StatusOK, v)
}

func planPath(no int) string { return "/office/plan/" + strconv.Itoa(no) }
