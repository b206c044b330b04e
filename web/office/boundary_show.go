package office

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/geofile"
	"sixmile/web/shell"
)

// Ground is the places, their outlines and the layers of reference: one store in
// real work.
type Ground struct {
	Stages    Stages
	Surveys   Surveys
	Sets      Sets
	GroundOf  GroundOf
	RefLayers RefLayers
}

// Stages lays boundary sets out and puts them in force; tell is told how far it
// has come, from 0 to 1.
type Stages interface {
	Stage(ctx context.Context, s geofile.Set, day time.Time, tell func(string, float64)) (geofile.Ticket, geofile.Inspection, error)
	AcceptStaged(ctx context.Context, t geofile.Ticket, day time.Time, tell func(string, float64)) (desk.Accepted, error)
	Discard(ctx context.Context, t geofile.Ticket) error
}

// Sets lists boundary sets: those that were accepted, and those laid out.
type Sets interface {
	Sets(ctx context.Context) ([]desk.BoundarySet, error)
	Pending(ctx context.Context) ([]desk.PendingSet, error)
	Crosswalk(ctx context.Context, from, to int) (desk.Crosswalk, error)
}

// GroundOf reads one set.
type GroundOf interface {
	Export(ctx context.Context, set int) ([]geofile.Layer, error)
	Districts(ctx context.Context, set int) ([]desk.District, error)
	Layers(ctx context.Context, set int) ([]desk.ReferenceLayer, error)
}

// groundRoutes are the pages of boundaries.
func (o *office) groundRoutes() []shell.Route {
	const get, post = http.MethodGet, http.MethodPost
	may := account.KeepGround
	return []shell.Route{
		{Method: get, Path: "/office/boundaries", May: may, Handler: o.boundariesShow},
		{Method: post, Path: "/office/boundaries", May: may, Handler: o.boundariesPost, MaxBody: maxGroundForm},
		{Method: post, Path: "/office/boundaries/layers", May: may, Handler: o.layersPost, MaxBody: maxGround + 64<<10},
		{Method: post, Path: "/office/boundaries/layer", May: may, Handler: o.layerPost},
		{Method: get, Path: "/office/boundaries/files/{token}", May: may, Handler: o.filesShow},
		{Method: post, Path: "/office/boundaries/files/{token}", May: may, Handler: o.filesPost},
		{Method: get, Path: "/office/boundaries/staged/{ticket}", May: may, Handler: o.stagedShow},
		{Method: post, Path: "/office/boundaries/staged/{ticket}", May: may, Handler: o.stagedPost},
		{Method: get, Path: "/office/boundaries/staged/{ticket}/map.svg", May: may, Handler: o.stagedMap},
		{Method: get, Path: "/office/boundaries/sets/{set}", May: may, Handler: o.setShow},
		{Method: get, Path: "/office/boundaries/sets/{set}/boundaries.geojson", May: may, Handler: o.setFile("geojson")},
		{Method: get, Path: "/office/boundaries/sets/{set}/boundaries.gpkg", May: may, Handler: o.setFile("gpkg")},
	}
}

// boundariesTyped is what a refused form of the page had in it.
type boundariesTyped struct {
	problems        map[string]string // by input
	layers          map[string]string // by the layer's title
	kind, title, at string
}

// boundariesView is the page of all boundaries.
type boundariesView struct {
	Files     []field // county and township file
	LayerFile field
	Kinds     []choice
	Title, At field
	Style     field
	Refused   []refusal
	Busy      string // the page of work under way
	Held      string // the page of files that wait for an answer
	Pending   []pendingView
	Sets      []setLine
	Layers    []layerLine
	HaveSet   bool
}

type pendingView struct{ Path, Day string }

type setLine struct {
	Path, Name, Day                string
	Counties, Townships, Districts string
	InForce                        bool
}

type layerLine struct {
	ID, Title, Features, At, Problem string
	Kinds                            []choice
}

func (o *office) boundariesShow(w http.ResponseWriter, r *http.Request) error {
	return o.showBoundaries(w, r, http.StatusOK, boundariesTyped{})
}

func (o *office) showBoundaries(w http.ResponseWriter, r *http.Request, status int, typed boundariesTyped) error {
	v, err := o.boundariesView(r.Context(), typed)
	if err != nil {
		return err
	}
	p := o.page(r, o.Lang.Say("boundary.title"))
	p.Wide = true
	p.Address = "/office/boundaries"
	return shell.Render(w, r, status, boundariesPage(p, v))
}

func (o *office) boundariesView(ctx context.Context, typed boundariesTyped) (boundariesView, error) {
	at := typed.at
	if at == "" {
		at = "1"
	}
	v := boundariesView{
		Files:     []field{{Name: countyFile, Problem: typed.problems[countyFile]}, {Name: townshipFile, Problem: typed.problems[townshipFile]}},
		LayerFile: field{Name: layerFile, Problem: typed.problems[layerFile]},
		Kinds:     o.layerKinds(typed.kind, false), Style: field{Name: "kind", Problem: typed.problems["kind"]},
		Title: field{Name: "title", Value: typed.title}, At: field{Name: "position", Value: at, Problem: typed.problems["position"]},
		Held: o.plats.held(),
	}
	if key, yes := o.plats.busy(); yes {
		v.Busy = key
	}
	pending, err := o.Sets.Pending(ctx)
	if err != nil {
		return v, err
	}
	for _, p := range pending {
		v.Pending = append(v.Pending, pendingView{stagedKey(geofile.Ticket(p.Ticket)), o.Lang.Date(p.Day)})
	}
	sets, err := o.Sets.Sets(ctx)
	if err != nil {
		return v, err
	}
	for i, s := range slices.Backward(sets) {
		v.Sets = append(v.Sets, setLine{
			Path: setPath(s.Set), Name: o.Lang.Say("boundary.set", "set", s.Set), Day: o.Lang.Date(s.Day), InForce: i == len(sets)-1,
			Counties: o.Lang.Number(s.Counties), Townships: o.Lang.Number(s.Townships), Districts: o.Lang.Number(s.Districts),
		})
	}
	v.Refused = refusals(v.Files...)
	layer := refusals(v.LayerFile, v.Style, v.At)
	if v.HaveSet = len(sets) > 0; !v.HaveSet {
		v.Refused = append(v.Refused, astray(layer)...)
		return v, nil
	}
	v.Refused = append(v.Refused, layer...)
	layers, err := o.GroundOf.Layers(ctx, sets[len(sets)-1].Set)
	for i, l := range layers {
		v.Layers = append(v.Layers, layerLine{
			ID: "layer-" + strconv.Itoa(i), Title: l.Title, Features: o.Lang.Count("boundary.layer.n", l.Features), At: strconv.Itoa(l.Position),
			Kinds: o.layerKinds(l.Kind, true), Problem: typed.layers[l.Title],
		})
		if p := typed.layers[l.Title]; p != "" {
			v.Refused = append(v.Refused, refusal{"layer-" + strconv.Itoa(i), p})
		}
	}
	return v, err
}

// layerKinds are the styles there are; only those that the shapes of a kind can
// be drawn in.
func (o *office) layerKinds(kind string, only bool) (out []choice) {
	lines := []string{"river", "road"}
	for _, k := range []string{"town", "river", "road", "ridge"} {
		if !only || k == kind || slices.Contains(lines, k) && slices.Contains(lines, kind) {
			out = append(out, choice{k, o.Lang.SayOf("boundary.kind", k), k == kind})
		}
	}
	return out
}

func setPath(set int) string { return "/office/boundaries/sets/" + strconv.Itoa(set) }
