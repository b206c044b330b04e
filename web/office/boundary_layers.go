package office

import (
	"context"
	"errors"
	"net/http"

	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
)

// RefLayers keeps the reference layers of the boundary set in force.
type RefLayers interface {
	// PutLayer: in place of what had its title. fault.ErrNotFound: no set yet.
	PutLayer(ctx context.Context, l geofile.ReferenceLayer) (desk.LayerAdded, error)
	// ArrangeLayer: *fault.Invalid says what cannot be.
	ArrangeLayer(ctx context.Context, title string, to desk.ReferenceLayer) error
	DropLayer(ctx context.Context, title string) error
}

// layerPost renames a reference layer, moves it in the order, draws it in
// another style, or takes it off.
func (o *office) layerPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	was := form.Get("was")
	if form.Get("do") == "drop" {
		err = o.RefLayers.DropLayer(r.Context(), was)
	} else {
		to := desk.ReferenceLayer{Title: line(form, "title"), Kind: line(form, "kind")}
		n, ok := position(line(form, "position"))
		if !ok {
			return o.showBoundaries(w, r, http.StatusUnprocessableEntity,
				boundariesTyped{layers: map[string]string{was: o.Lang.Say("boundary.problem.position")}})
		}
		to.Position = n
		err = o.RefLayers.ArrangeLayer(r.Context(), was, to)
	}
	var invalid *fault.Invalid
	if errors.As(err, &invalid) {
		said := ""
		for _, field := range []string{"title", "kind"} {
			if p, there := invalid.Fields[field]; there && said == "" {
				said = o.Lang.Say(p.Key, p.Args...)
			}
		}
		return o.showBoundaries(w, r, http.StatusUnprocessableEntity, boundariesTyped{layers: map[string]string{was: said}})
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/office/boundaries#layers", http.StatusSeeOther)
	return nil
}
