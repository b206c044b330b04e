package office

import (
	"bytes"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/place"
	"sixmile/web/shell"
)

// setView is the page of one boundary set.
type setView struct {
	Name, Path string
	Accepted   bool // just now
	Facts      []fact
	From       string // the set that it is compared with; "" for the first
	Same       string
	Totals     []fact
	Crossings  []crossingView
	More       string
	Counties   []districtsView
	Districts  string
}

// crossingView is a line of the crosswalk.
type crossingView struct{ Passage, Kind, Before, After, County, Share, Area string }

// districtsView is the districts of a county.
type districtsView struct {
	County    string
	Districts []districtView
}

type districtView struct{ Code, Townships string }

func (o *office) setShow(w http.ResponseWriter, r *http.Request) error {
	no, err := setOf(r)
	if err != nil {
		return err
	}
	sets, err := o.Sets.Sets(r.Context())
	if err != nil {
		return err
	}
	i := slices.IndexFunc(sets, func(s desk.BoundarySet) bool { return s.Set == no })
	if i < 0 {
		return fault.ErrNotFound
	}
	s := sets[i]
	v := setView{Name: o.Lang.Say("boundary.set", "set", no), Path: setPath(no), Accepted: r.URL.Query().Has("accepted")}
	v.Facts = []fact{
		{o.Lang.Say("boundary.fact.day"), o.Lang.Date(s.Day)}, {o.Lang.Say("boundary.counties"), o.Lang.Number(s.Counties)},
		{o.Lang.Say("boundary.townships"), o.Lang.Number(s.Townships)}, {o.Lang.Say("boundary.districts"), o.Lang.Number(s.Districts)},
		{o.Lang.Say("boundary.fact.drawn"), "EPSG:" + strconv.Itoa(s.SRID)},
	}
	if i > 0 {
		walk, err := o.Sets.Crosswalk(r.Context(), sets[i-1].Set, no)
		if err != nil {
			return err
		}
		v.cross(o.Lang, walk)
	}
	districts, err := o.GroundOf.Districts(r.Context(), no)
	if err != nil {
		return err
	}
	v.district(o.Lang, districts)
	p := o.page(r, v.Name)
	p.Wide, p.Address = true, "/office/boundaries"
	return shell.Render(w, r, http.StatusOK, setPage(p, v))
}

// cross puts a crosswalk into words.
func (v *setView) cross(l *catalog.Lang, walk desk.Crosswalk) {
	v.From = l.Say("boundary.set", "set", walk.From)
	v.Totals = []fact{{l.Say("boundary.passage.same"), l.Number(walk.Same)}}
	all := 0
	for _, p := range []desk.Passage{desk.Renamed, desk.Reshaped, desk.Appeared, desk.Vanished} {
		v.Totals = append(v.Totals, fact{l.SayOf("boundary.passage", string(p)), l.Number(walk.Total[p])})
		all += walk.Total[p]
	}
	for _, c := range walk.Lines {
		x := crossingView{Passage: l.SayOf("boundary.passage", string(c.Passage)), Kind: l.SayOf("boundary.placekind", string(c.Kind)),
			Before: c.Before, After: c.After, County: c.County}
		if c.Kind == place.County {
			x.County = ""
		}
		if c.Before != "" && c.After != "" {
			x.Share = l.Say("boundary.share", "share", strconv.Itoa(int(c.Share*100+0.5)))
		}
		switch {
		case c.BeforeKM2 > 0 && c.AfterKM2 > 0:
			x.Area = l.Say("boundary.areas", "before", geofile.Acres(c.BeforeKM2*1e6), "after", geofile.Acres(c.AfterKM2*1e6))
		case c.BeforeKM2 > 0 || c.AfterKM2 > 0:
			x.Area = geofile.Acres(max(c.BeforeKM2, c.AfterKM2) * 1e6)
		}
		v.Crossings = append(v.Crossings, x)
	}
	if all > len(walk.Lines) {
		v.More = l.Count("boundary.more", all-len(walk.Lines))
	}
}

func (v *setView) district(l *catalog.Lang, list []desk.District) {
	v.Districts = l.Count("boundary.districts.n", len(list))
	for _, d := range list {
		if n := len(v.Counties); n == 0 || v.Counties[n-1].County != d.County {
			v.Counties = append(v.Counties, districtsView{County: d.County})
		}
		c := &v.Counties[len(v.Counties)-1]
		c.Districts = append(c.Districts, districtView{d.Code, strings.Join(d.Townships, ", ")})
	}
}

// setFile writes a set as a file.
func (o *office) setFile(format string) shell.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		no, err := setOf(r)
		if err != nil {
			return err
		}
		layers, err := o.GroundOf.Export(r.Context(), no)
		if err != nil {
			return err
		}
		var b bytes.Buffer
		name := "boundaries-" + strconv.Itoa(no) + "." + format
		if format == "gpkg" {
			if err := geofile.WriteGeoPackage(&b, layers); err != nil {
				return err
			}
			return sendFile(w, r, "application/geopackage+sqlite3", name, b.Bytes())
		}
		if err := geofile.WriteGeoJSON(&b, oneLayer(layers)); err != nil {
			return err
		}
		return sendFile(w, r, "application/geo+json", name, b.Bytes())
	}
}

// oneLayer makes one layer of several, since GeoJSON has no layers. Each feature
// says which it is of.
func oneLayer(layers []geofile.Layer) geofile.Layer {
	out := geofile.Layer{SRID: 4326}
	for _, l := range layers {
		for _, f := range l.Features {
			f.Properties = maps.Clone(f.Properties)
			f.Properties["layer"] = l.Name
			out.Features = append(out.Features, f)
		}
	}
	return out
}
