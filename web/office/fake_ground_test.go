package office

import (
	"context"
	"sync"
	"time"

	"github.com/twpayne/go-geom"

	"sixmile/internal/atlas"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
)

// fakeGround lays out what it is given, in memory.
type fakeGround struct {
	calls
	mu      sync.Mutex
	staged  map[geofile.Ticket]geofile.Inspection
	places  []desk.StagedPlace
	sets    []desk.BoundarySet
	layers  []desk.ReferenceLayer
	put     []geofile.ReferenceLayer
	last    geofile.Set
	found   geofile.Inspection // what the next looking-over finds
	hold    chan struct{}      // laying out waits for it, where there is one
	failing error
}

func newFakeGround() *fakeGround {
	square := func(x int32) atlas.Shape {
		return atlas.Shape{{{{X: x, Y: 0}, {X: x + 10000, Y: 0}, {X: x + 10000, Y: 10000}, {X: x, Y: 10000}, {X: x, Y: 0}}}}
	}
	return &fakeGround{
		staged: map[geofile.Ticket]geofile.Inspection{},
		places: []desk.StagedPlace{{Kind: "county", Code: "1", Name: "Plover", Outline: square(0)},
			{Kind: "township", Code: "T1N R1E", Name: "Goose", County: "1", Known: true, Outline: square(0)}},
		sets: []desk.BoundarySet{{Accepted: desk.Accepted{Set: 1, Counties: 2, Townships: 3, Districts: 2}, Day: date(2020, 8, 1), SRID: 32615},
			{Accepted: desk.Accepted{Set: 2, Counties: 2, Townships: 3, Districts: 2}, Day: date(2026, 8, 1), SRID: 32615}},
		layers: []desk.ReferenceLayer{{Title: "Rivers", Kind: "river", Position: 1, Features: 12}, {Title: "Towns", Kind: "town", Position: 2, Features: 4}},
	}
}

func (f *fakeGround) Stage(ctx context.Context, s geofile.Set, _ time.Time, tell func(string, float64)) (geofile.Ticket, geofile.Inspection, error) {
	f.hit()
	tell("mending outlines", 0.125)
	if f.hold != nil {
		<-f.hold
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.failing != nil {
		return geofile.Ticket{}, geofile.Inspection{}, f.failing
	}
	f.last = s
	t := geofile.Ticket{7}
	if f.found.Known == 0 {
		f.staged[t] = f.found
	}
	return t, f.found, nil
}

func (f *fakeGround) AcceptStaged(_ context.Context, t geofile.Ticket, day time.Time, tell func(string, float64)) (desk.Accepted, error) {
	f.hit()
	tell("districts", 0.6)
	f.mu.Lock()
	defer f.mu.Unlock()
	found, ok := f.staged[t]
	switch {
	case f.failing != nil:
		return desk.Accepted{}, f.failing
	case !ok:
		return desk.Accepted{}, fault.ErrNotFound
	case found.Stopped():
		return desk.Accepted{}, &geofile.Refused{Inspection: found}
	}
	delete(f.staged, t)
	a := desk.Accepted{Set: len(f.sets) + 1, Counties: 1, Townships: 1, Districts: 1, New: true}
	f.sets = append(f.sets, desk.BoundarySet{Accepted: a, Day: day, SRID: 32615})
	return a, nil
}

func (f *fakeGround) Discard(_ context.Context, t geofile.Ticket) error {
	f.hit()
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.staged, t)
	return nil
}

func (f *fakeGround) Staged(_ context.Context, t geofile.Ticket) (geofile.Inspection, error) {
	f.hit()
	f.mu.Lock()
	defer f.mu.Unlock()
	found, ok := f.staged[t]
	if !ok {
		return found, fault.ErrNotFound
	}
	return found, nil
}

func (f *fakeGround) StagedMap(context.Context, geofile.Ticket) ([]desk.StagedPlace, error) {
	f.hit()
	return f.places, nil
}

func (f *fakeGround) StagedPoints(_ context.Context, _ geofile.Ticket, at []desk.LonLat) ([]atlas.Point, error) {
	f.hit()
	out := make([]atlas.Point, len(at))
	for i := range at {
		out[i] = atlas.Point{X: 2000 * int32(i+1), Y: 5000}
	}
	return out, nil
}

func (f *fakeGround) Pending(context.Context) (out []desk.PendingSet, _ error) {
	f.hit()
	f.mu.Lock()
	defer f.mu.Unlock()
	for t := range f.staged {
		out = append(out, desk.PendingSet{Ticket: desk.ID(t), Day: today})
	}
	return out, nil
}

func (f *fakeGround) Sets(context.Context) ([]desk.BoundarySet, error) {
	f.hit()
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.sets, nil
}

func (f *fakeGround) Crosswalk(_ context.Context, from, to int) (desk.Crosswalk, error) {
	f.hit()
	return desk.Crosswalk{From: from, To: to, Same: 1, Total: map[desk.Passage]int{desk.Renamed: 1, desk.Vanished: 2}, Lines: []desk.Crossing{
		{Kind: "township", Passage: desk.Vanished, Before: "Dry Run <script>alert(1)</script>", After: "Goose T1N R1E", County: "Plover", Share: 0.834, BeforeKM2: 93.24},
		{Kind: "township", Passage: desk.Renamed, Before: "Larkin T22N R8E", After: "Larkin T22N R9E", County: "Plover", Share: 1}}}, nil
}

func (f *fakeGround) Export(_ context.Context, set int) ([]geofile.Layer, error) {
	f.hit()
	if set > len(f.sets) {
		return nil, fault.ErrNotFound
	}
	ring := []float64{-93, 42, -92, 42, -92, 43, -93, 43, -93, 42}
	return []geofile.Layer{{Name: "counties", SRID: 4326, Features: []geofile.Feature{{
		Properties: map[string]string{"code": "1", "name": "Plover"}, Geometry: geom.NewMultiPolygonFlat(geom.XY, ring, [][]int{{len(ring)}})}}}}, nil
}

func (f *fakeGround) Districts(context.Context, int) ([]desk.District, error) {
	f.hit()
	return []desk.District{{County: "Plover", Code: "1.1", Townships: []string{"T21N R8E", "T22N R8E"}}, {County: "Sedge", Code: "2.1", Townships: []string{"T20N R8E"}}}, nil
}

func (f *fakeGround) Layers(context.Context, int) ([]desk.ReferenceLayer, error) {
	f.hit()
	return f.layers, nil
}

func (f *fakeGround) PutLayer(_ context.Context, l geofile.ReferenceLayer) (desk.LayerAdded, error) {
	f.hit()
	f.mu.Lock()
	defer f.mu.Unlock()
	f.put = append(f.put, l)
	return desk.LayerAdded{Shown: len(l.Features), Beyond: 3}, f.failing
}

func (f *fakeGround) ArrangeLayer(_ context.Context, title string, to desk.ReferenceLayer) error {
	f.hit()
	for i, l := range f.layers {
		switch {
		case l.Title != title:
		case to.Title == "Towns" && title != "Towns":
			var invalid fault.Invalid
			invalid.Add("title", "boundary.problem.taken")
			return &invalid
		default:
			to.Features = l.Features
			f.layers[i] = to
			return nil
		}
	}
	return fault.ErrNotFound
}

func (f *fakeGround) DropLayer(_ context.Context, title string) error {
	f.hit()
	for i, l := range f.layers {
		if l.Title == title {
			f.layers = append(f.layers[:i:i], f.layers[i+1:]...)
			return nil
		}
	}
	return fault.ErrNotFound
}
