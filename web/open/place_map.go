package open

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"sixmile/internal/atlas"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// knownOutlines remembers the outlines of the current boundary set.
type knownOutlines struct {
	store PlaceNames

	mu   sync.Mutex
	last *place.Outlines
	json []byte
}

// get gives the outlines and the text the browser gets of them; nil where the
// browser could not match a position against them.
func (k *knownOutlines) get(ctx context.Context) (*place.Outlines, []byte, error) {
	if k.store == nil {
		return nil, nil, fault.ErrNotFound
	}
	set, err := k.store.Set(ctx)
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.last != nil && (err != nil || k.last.Set == set) {
		return k.last, k.json, nil
	}
	if err != nil {
		return nil, nil, err
	}
	o, err := k.store.Outlines(ctx)
	if err != nil {
		return nil, nil, err
	}
	k.last, k.json = o, outlinesJSON(o)
	return k.last, k.json, nil
}

// outlinesJSON writes the outlines for the browser: each ring as its first
// point and the steps from point to point, in whole meters.
func outlinesJSON(o *place.Outlines) []byte {
	zone, south, ok := o.Zone()
	if !ok {
		return nil
	}
	b := fmt.Appendf(nil, `{"set":%d,"zone":%d,"south":%t,"townships":[`, o.Set, zone, south)
	for i, t := range o.Townships {
		if i > 0 {
			b = append(b, ',')
		}
		b = fmt.Appendf(b, `[%d,%d,[`, t.ID, t.Place.County)
		for j, ring := range t.Rings {
			if j > 0 {
				b = append(b, ',')
			}
			b = appendRing(b, ring)
		}
		b = append(b, "]]"...)
	}
	return append(b, "]}"...)
}

func appendRing(b []byte, ring []int32) []byte {
	b = append(b, '[')
	var x, y int32
	for k := 0; k+1 < len(ring); k += 2 {
		if k > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendInt(b, int64(ring[k]-x), 10)
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(ring[k+1]-y), 10)
		x, y = ring[k], ring[k+1]
	}
	return append(b, ']')
}

// placeOutlines serves the outlines for matching a position in the browser.
func (g *grower) placeOutlines(w http.ResponseWriter, r *http.Request) error {
	o, text, err := g.outlines.get(r.Context())
	if err != nil {
		return err
	}
	if text == nil {
		return fault.ErrNotFound
	}
	tag := fmt.Sprintf(`"set-%d"`, o.Set)
	w.Header().Set("Cache-Control", "public, max-age=3600")
	w.Header().Set("ETag", tag)
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(text) // a reader who has gone cannot be answered
	return nil
}

// placeWaysOpen says which ways of naming a place the form can offer beside its
// lists.
type placeWaysOpen struct{ Names, Map, Position bool }

// ways is what can be offered now; a database that is away takes nothing from
// the form but these.
func (g *grower) ways(ctx context.Context) placeWaysOpen {
	if g.Names == nil {
		return placeWaysOpen{}
	}
	o, text, err := g.outlines.get(ctx)
	return placeWaysOpen{Names: true, Map: err == nil && len(o.Townships) > 0, Position: err == nil && text != nil}
}

// pickMap is a county's map to choose a township on.
type pickMap struct {
	County    place.Place
	Code      string // of the bag that came with the reader
	W, H      string
	Townships []pickTownship
}

// pickTownship is one township of it: a link.
type pickTownship struct {
	ID, Label, Href string
	Path            string
	Lines           []pickLine
	Size            string    // of the letters
	Box             [4]string // left, top, width and height, where there is no script to tell shapes apart
}

// pickLine is one line of a township's label.
type pickLine struct{ X, Y, Text string }

// boxInset is what part of a township's box is left free on each side.
const boxInset = 0.04

// pickWidth is the width of the map in its own units, whatever the screen's.
const pickWidth = 1000.0

// viewPickMap lays a county's map out.
func viewPickMap(county place.Place, list []place.Outlined, code string) pickMap {
	v := pickMap{County: county, Code: code}
	minX, minY, maxX, maxY, ok := place.Bounds(list)
	if !ok || maxX == minX || maxY == minY {
		return v
	}
	scale := pickWidth / float64(maxX-minX)
	x := func(m float64) float64 { return (m-float64(minX))*scale + 4 }
	y := func(m float64) float64 { return (float64(maxY)-m)*scale + 4 }
	v.W, v.H = tenth(pickWidth+8), tenth(float64(maxY-minY)*scale+8)
	boxes := make([]atlas.Box, len(list))
	for i, t := range list {
		if x0, y0, x1, y1, ok := place.Bounds([]place.Outlined{t}); ok {
			boxes[i] = atlas.Box{X0: atlas.Unit(x(float64(x0))), Y0: atlas.Unit(y(float64(y1))), X1: atlas.Unit(x(float64(x1))), Y1: atlas.Unit(y(float64(y0)))}
		}
	}
	for _, i := range atlas.ReadingOrder(boxes) {
		t := list[i]
		p := pickTownship{ID: idString(t.Place), Label: t.Place.Label(), Href: pickHref(county, t.Place, code)}
		var path strings.Builder
		for _, ring := range t.Rings {
			for k := 0; k+1 < len(ring); k += 2 {
				path.WriteByte("ML"[min(k, 1)])
				path.WriteString(tenth(x(float64(ring[k]))) + " " + tenth(y(float64(ring[k+1]))))
			}
			path.WriteByte('Z')
		}
		p.Path = path.String()
		atX, atY, width := t.Label()
		p.Lines, p.Size = label(t.Place, x(atX), y(atY), width*scale)
		if x0, y0, x1, y1, ok := place.Bounds([]place.Outlined{t}); ok {
			// A little less than the whole: ragged neighbors overlap.
			w, h := float64(x1-x0)*scale, float64(y1-y0)*scale
			p.Box = [4]string{tenth(x(float64(x0)) + w*boxInset), tenth(y(float64(y1)) + h*boxInset), tenth(w * (1 - 2*boxInset)), tenth(h * (1 - 2*boxInset))}
		}
		v.Townships = append(v.Townships, p)
	}
	return v
}

// label sets a township's short name in lines that fit into a width; none where
// it would be too small to read.
func label(p place.Place, x, y, width float64) ([]pickLine, string) {
	text := p.Name
	if utf8.RuneCountInString(text) > 24 || text == "" {
		text = p.Code
	}
	words := strings.Fields(text)
	longest := 0
	for _, w := range words {
		longest = max(longest, utf8.RuneCountInString(w))
	}
	if longest == 0 || len(words) > 3 {
		return nil, ""
	}
	size := min(width*0.9/(0.6*float64(longest)), 34)
	if size < 14 {
		return nil, ""
	}
	var out []pickLine
	for i, w := range words {
		down := (float64(i)-float64(len(words)-1)/2)*1.1 + 0.35
		out = append(out, pickLine{X: tenth(x), Y: tenth(y + down*size), Text: w})
	}
	return out, tenth(size)
}

func tenth(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// pickHref is the form with a township chosen. The visit's token is not in it:
// addresses stay in histories and proxies' logs, and nothing has been stored
// under the token yet.
func pickHref(county, township place.Place, code string) string {
	return sendHref(county, code) + "&township=" + idString(township)
}

// sendMap shows a county's map to choose a township on; with part=map the map
// alone, for the form's script.
func (g *grower) sendMap(w http.ResponseWriter, r *http.Request) error {
	known, err := g.known.get(r.Context())
	if err != nil {
		return err
	}
	query := r.URL.Query()
	if query.Get("county") == "" { // a form without a county yet
		http.Redirect(w, r, "/send", http.StatusSeeOther)
		return nil
	}
	county, ok := known.bySlug(query.Get("county"))
	if id, err := strconv.ParseInt(query.Get("county"), 10, 32); err == nil && !ok {
		county, ok = known.places[place.ID(id)]
	}
	if !ok || county.Kind != place.County {
		return fault.ErrNotFound
	}
	o, _, err := g.outlines.get(r.Context())
	if err != nil {
		return err
	}
	v := viewPickMap(county, o.County(county.ID), typed(query, "bag"))
	p := g.page(g.Lang.Say("place.map.title", "county", county.Name), "send")
	w.Header().Set("Cache-Control", "private, no-cache")
	if query.Get("part") == "map" {
		return shell.Render(w, r, http.StatusOK, placeMap(p, v))
	}
	return shell.Render(w, r, http.StatusOK, placeMapPage(p, v))
}

// keptForm is a form on its way through the map of its i-th block.
type keptForm struct {
	I      int
	Hidden [][2]string
}

// sendKeptMap shows the map of a block's county without losing what was typed.
func (g *grower) sendKeptMap(w http.ResponseWriter, r *http.Request, f sample.Form, known *ground, i int) error {
	f, err := g.whole(f)
	if err != nil {
		return err
	}
	if i < 0 || i >= len(f.Bags) {
		return fault.ErrNotFound
	}
	id, err := strconv.ParseInt(f.Bags[i].County, 10, 32)
	county, ok := known.places[place.ID(id)]
	if err != nil || !ok || county.Kind != place.County {
		which := map[string]fault.Problem{sample.Field(i, "county"): {Key: "send.error.county"}}
		return g.showForm(w, r, http.StatusUnprocessableEntity, viewSend(f, known, g.Today(), which))
	}
	o, _, err := g.outlines.get(r.Context())
	if err != nil {
		return err
	}
	kept := keptForm{I: i, Hidden: hidden(f)}
	for b := range f.Bags {
		if typed := typedPlace(r.PostForm, b); typed != "" {
			kept.Hidden = append(kept.Hidden, [2]string{sample.Field(b, "find"), typed})
		}
	}
	p := g.page(g.Lang.Say("place.map.title", "county", county.Name), "send")
	p.Private = true
	return shell.Render(w, r, http.StatusOK, keptMapPage(p, viewPickMap(county, o.County(county.ID), f.Bags[i].Code), kept))
}
