package office

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/fault"
)

// Soil notes that a bag's soil has come in.
type Soil interface {
	// LogIn: fault.ErrConflict when it had come before, fault.ErrNotFound for
	// no such bag.
	LogIn(ctx context.Context, code bag.Code, today time.Time) error
}

// maxMany bounds the codes of one sending.
const maxMany = 1000

func (o *office) soilPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	before := readBatch(form.Get("batch"))
	if form.Get("do") == "many" {
		return o.soilMany(w, r, strings.ToValidUTF8(form.Get("many"), "\uFFFD"), before)
	}
	got, err := o.logIn(r.Context(), line(form, "scan"))
	if err != nil {
		return err
	}
	v := newSoilView([]landed{got}, before)
	// The field is left empty whatever came: a scanner would write behind what
	// stands there. What was refused is shown under it.
	v.Refused = soilStatus(v.Last) != http.StatusOK
	return o.showSoil(w, r, soilStatus(v.Last), v)
}

// soilMany takes many codes at once. Those that could not be taken stay in the
// field, each on its line, to be mended.
func (o *office) soilMany(w http.ResponseWriter, r *http.Request, typed string, before []landed) error {
	codes := splitCodes(typed)
	if len(codes) == 0 || len(codes) > maxMany {
		v := newSoilView(nil, before)
		v.Many.Value = typed
		v.Many.Problem = o.Lang.Say("soil.many.none")
		if len(codes) > maxMany {
			v.Many.Problem = o.Lang.Say("soil.many.toomany", "most", maxMany)
		}
		return o.showSoil(w, r, http.StatusUnprocessableEntity, v)
	}
	var now []landed
	var left []string
	for _, c := range codes {
		got, err := o.logIn(r.Context(), c)
		if err != nil {
			return err
		}
		now = append(now, got)
		if got.Outcome == soilNoCode || got.Outcome == soilNone {
			left = append(left, c)
		}
	}
	v := newSoilView(now, before)
	v.Many.Value = strings.Join(left, "\n")
	if len(left) > 0 {
		v.Many.Problem = o.Lang.Count("soil.many.left", len(left))
	}
	return o.showSoil(w, r, soilStatus(now), v)
}

// soilStatus is a refusal when a code could not be taken.
func soilStatus(now []landed) int {
	for _, l := range now {
		if l.Outcome == soilNoCode || l.Outcome == soilNone {
			return http.StatusUnprocessableEntity
		}
	}
	return http.StatusOK
}

// logIn takes one code as it was typed or scanned.
func (o *office) logIn(ctx context.Context, typed string) (landed, error) {
	code, err := bag.Parse(scanned(typed))
	if err != nil {
		return landed{Typed: typed, Outcome: soilNoCode, Why: codeProblem(o.Lang, err)}, nil
	}
	err = o.Soil.LogIn(ctx, code, o.Today())
	switch {
	case err == nil:
		return landed{Code: code, Outcome: soilIn}, nil
	case errors.Is(err, fault.ErrConflict):
		return landed{Code: code, Outcome: soilBefore}, nil
	case errors.Is(err, fault.ErrNotFound):
		return landed{Code: code, Outcome: soilNone}, nil
	}
	return landed{}, err
}

// splitCodes cuts a list as people paste it, one code a line or parted by
// commas, semicolons or tabs. A code may have a space inside.
func splitCodes(s string) []string {
	var out []string
	for _, c := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("\n\r\t,;", r) }) {
		if c = shorten(c); c != "" {
			out = append(out, c)
		}
	}
	return out
}
