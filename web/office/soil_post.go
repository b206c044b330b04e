package office

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
)

// Soil notes that soil has come in.
type Soil interface {
	// Arrive gives the bag's cup: none where its condition keeps it from being
	// counted. fault.ErrConflict when it had come before, fault.ErrNotFound for no
	// such bag.
	Arrive(ctx context.Context, code bag.Code, c tray.Condition, today time.Time) (tray.Seat, error)
	// Stray notes soil that is no bag of the program's as it stands.
	Stray(ctx context.Context, s desk.Stray, page sample.Token, today time.Time) error
}

// maxMany bounds the codes of one sending.
const maxMany = 1000

func (o *office) soilPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	before := readBatch(form.Get("batch"))
	token, err := sample.ParseToken(line(form, "token"))
	if err != nil {
		token = sample.Token{} // an old page: what has a code needs none
	}
	if kind := desk.StrayKind(form.Get("do")); kind == desk.StrayUnreadable || kind == desk.StrayNotOurs {
		return o.soilStray(w, r, kind, token, before)
	}
	if form.Get("do") == "many" {
		return o.soilMany(w, r, strings.ToValidUTF8(form.Get("many"), "\uFFFD"), before)
	}
	condition, ok := tray.ParseCondition(line(form, "condition"))
	if !ok {
		condition = tray.Good
	}
	got, err := o.logIn(r.Context(), line(form, "scan"), condition)
	if err != nil {
		return err
	}
	v := newSoilView([]landed{got}, before)
	// The field is left empty whatever came: a scanner would write behind what
	// stands there. What was refused is shown under it.
	v.Refused = soilStatus(v.Last) != http.StatusOK
	v.Same = form.Has("same")
	if v.Refused || v.Same {
		v.Condition = condition // for the code scanned again; the next bag is good unless it is said
	}
	return o.showSoil(w, r, soilStatus(v.Last), v)
}

// soilStray notes a bag that has no code to scan, or is none of the program's.
func (o *office) soilStray(w http.ResponseWriter, r *http.Request, kind desk.StrayKind, token sample.Token, before []landed) error {
	if token == (sample.Token{}) {
		return fault.ErrNotFound
	}
	if err := o.Soil.Stray(r.Context(), desk.Stray{Kind: kind}, token, o.Today()); err != nil {
		return err
	}
	note := landed{Outcome: soilStray, Typed: o.Lang.SayOf("soil.stray", string(kind))}
	return o.showSoil(w, r, http.StatusOK, newSoilView([]landed{note}, before))
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
		got, err := o.logIn(r.Context(), c, tray.Good)
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
func (o *office) logIn(ctx context.Context, typed string, c tray.Condition) (landed, error) {
	code, err := bag.Parse(scanned(typed))
	if err != nil {
		return landed{Typed: typed, Outcome: soilNoCode, Why: codeProblem(o.Lang, err)}, nil
	}
	seat, err := o.Soil.Arrive(ctx, code, c, o.Today())
	switch {
	case err == nil:
		return landed{Code: code, Outcome: soilIn, Seat: seat}, nil
	case errors.Is(err, fault.ErrConflict):
		return landed{Code: code, Outcome: soilBefore, Seat: seat}, nil
	case errors.Is(err, fault.ErrNotFound):
		// The soil is there all the same: it is noted for the coordinator.
		err := o.Soil.Stray(ctx, desk.Stray{Code: code, Kind: desk.StrayUnknown}, sample.Token{}, o.Today())
		return landed{Code: code, Outcome: soilNone}, err
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
