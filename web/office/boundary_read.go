package office

import (
	"bytes"
	"context"
	"errors"
	"strings"

	"sixmile/internal/geofile"
)

// cutBefore is s from where a part of it begins.
func cutBefore(s, from string) string {
	if i := strings.Index(s, from); i >= 0 {
		return s[i:]
	}
	return s
}

// read reads a file whole.
func (o *office) readGround(f *groundFile, layer, crs string) (geofile.Layer, error) {
	opt := geofile.Options{Layer: layer, Any: f.Role == layerFile}
	if crs != "" {
		var err error
		if opt.CRS, err = geofile.ParseCRS(crs); err != nil {
			return geofile.Layer{}, err
		}
	}
	return geofile.ReadWith(f.Name, bytes.NewReader(f.data), int64(len(f.data)), o.plats.limits, opt)
}

// survey reads every file of a draft for the first time, or another layer of it,
// to see what fields there are. What is wrong with a file is kept with it.
func (o *office) survey(d *groundDraft) {
	var wish groundWish
	o.plats.change(func() { wish = d.wish })
	for i, f := range d.files {
		o.plats.tell("reading", float64(i)/float64(len(d.files)))
		layer, err := o.readGround(f, wish.Layer[f.Role], "")
		seen := *f
		seen.Layers, seen.Failed = nil, err
		seen.Layer = wish.Layer[f.Role]
		var choose *geofile.ChooseError
		if errors.As(err, &choose) && len(choose.Layers) > 0 {
			seen.Layers, seen.Failed = choose.Layers, nil
		}
		if err == nil {
			seen.Fields, seen.Features, seen.Says = layer.Fields(), len(layer.Features), layer.CRS()
			seen.First = firstValues(layer)
		}
		o.plats.change(func() {
			*f = seen
			if err == nil {
				d.wish.guess(f)
			}
		})
	}
}

// firstValues is of each field the first value that is not empty.
func firstValues(l geofile.Layer) map[string]string {
	out := map[string]string{}
	for _, f := range l.Features {
		for name, v := range f.Properties {
			if out[name] == "" {
				out[name] = shorten(v)
			}
		}
	}
	return out
}

// groundUses is what the fields of a file are wanted for, by its role.
var groundUses = map[string][]string{
	countyFile:   {"code", "name"},
	townshipFile: {"code", "name", "county"},
	layerFile:    {"name", "rank"},
}

// likelyNames are what fields for a use are often called.
var likelyNames = map[string][]string{
	"code": {"code", "geoid", "fips", "id"}, "name": {"name", "label"}, "county": {"county"}, "rank": {"rank", "class"},
}

// guess picks fields by their names, where nothing was picked before.
func (w *groundWish) guess(f *groundFile) {
	if w.Field == nil {
		w.Field = map[string]map[string]string{}
	}
	if w.Field[f.Role] != nil {
		return
	}
	picked := map[string]string{}
	for _, use := range groundUses[f.Role] {
		picked[use] = likeliest(f.Fields, likelyNames[use])
	}
	w.Field[f.Role] = picked
}

// likeliest is the field called like one of the words, or else one that begins
// with it or holds it.
func likeliest(fields, words []string) string {
	for _, fits := range []func(field, word string) bool{
		func(f, w string) bool { return f == w }, strings.HasPrefix, strings.HasSuffix,
	} {
		for _, w := range words {
			for _, f := range fields {
				if fits(strings.ToLower(f), w) {
					return f
				}
			}
		}
	}
	return ""
}

// layOut reads both files by what was picked and lays them out in the database.
func (o *office) layOut(ctx context.Context, d *groundDraft, w groundWish) (then string, err error) {
	var layers [2]geofile.Layer
	for i, f := range d.files {
		o.plats.tell("reading", 0)
		if layers[i], err = o.readGround(f, w.Layer[f.Role], w.CRS[f.Role]); err != nil {
			return "", err
		}
	}
	c, t := w.Field[countyFile], w.Field[townshipFile]
	set, err := geofile.NewSet(layers[0], layers[1], geofile.Fields{Code: c["code"], Name: c["name"]},
		geofile.Fields{Code: t["code"], Name: t["name"], County: t["county"]})
	if err != nil {
		return "", err
	}
	ticket, found, err := o.Stages.Stage(ctx, set, o.Today(), o.plats.tell)
	if err != nil {
		return "", err
	}
	if found.Known > 0 {
		o.plats.change(func() { d.said = o.Lang.Say("boundary.known", "set", found.Known) })
		return "", nil
	}
	return "/office/boundaries/staged/" + ticket.String(), nil
}

// layOn reads a file of landmarks by what was picked and lays it on the maps.
func (o *office) layOn(ctx context.Context, d *groundDraft, w groundWish) error {
	f := d.files[0]
	read, err := o.readGround(f, w.Layer[layerFile], w.CRS[layerFile])
	if err != nil {
		return err
	}
	layer, err := geofile.NewReferenceLayer(read, w.Kind, w.Field[layerFile]["name"], w.Field[layerFile]["rank"])
	if err != nil {
		return err
	}
	layer.Position = w.At
	if w.Title != "" {
		layer.Title = w.Title
	}
	o.plats.tell("storing", 0.5)
	done, err := o.RefLayers.PutLayer(ctx, layer)
	if err != nil {
		return err
	}
	said := o.Lang.Count("boundary.layer.shown", done.Shown, "title", layer.Title)
	if done.Beyond > 0 {
		said += " " + o.Lang.Count("boundary.layer.beyond", done.Beyond)
	}
	o.plats.change(func() {
		d.said = said
		f.data = nil
	})
	return nil
}
