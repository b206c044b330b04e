// Package audit tries to break the promise from the outside. It takes what is
// public of every edition, writes each edition's text again, compares digest and
// printed code, reads the published formats back into figures, and hands all of
// it to the attacker of package edition/attack.
//
// It decides nothing and stores nothing. Package postgres runs it inside every
// release, with the public role's eyes; the audit command runs it over everything.
package audit

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
)

// Edition is one edition as its public rows have it.
type Edition struct {
	Meta      edition.Meta // Previous is the stored digest of the edition before
	Tranches  []edition.Tranche
	Again     []edition.Recount // of older tranches
	Falls     []edition.FallFigure
	Digest    [32]byte // as stored when it was released
	Code      string   // as printed on its maps
	Withdrawn bool
}

// Text is the edition's canonical text, from its rows.
func (e Edition) Text() []byte { return edition.Canonical(e.Meta, e.Tranches, e.Falls, e.Again...) }

// Seal makes the digest and the code of an edition that is not stored yet.
func (e *Edition) Seal() {
	e.Digest = edition.Digest(e.Text())
	e.Code = edition.Code(e.Digest)
}

// Archive is all that is public.
type Archive struct {
	Editions []Edition  // oldest first, withdrawn ones too
	Map      attack.Map // the district of every township of every county
	// Recalls are what was taken back; a withdrawn edition's tranches are with
	// it whether they stand here or not.
	Recalls []attack.Recall
	// Claims are figures read back from pages and files; nil: none were read.
	Claims []Claim
}

// Outcome is what one check found; nothing is the hoped-for answer.
type Outcome struct {
	Name   string
	Reason string // what a finding would mean
	Found  []string
}

// Progress is told how many editions of how many have been taken up.
type Progress func(done, of int)

// Run makes every check. The report may be nil.
func Run(a Archive, report Progress) []Outcome {
	if report == nil {
		report = func(int, int) {}
	}
	format := Outcome{Name: "format", Reason: "a word more than an edition's format allows could carry a fact more"}
	digest := Outcome{Name: "digest", Reason: "an edition whose figures do not give its digest was changed after its release"}
	code := Outcome{Name: "code", Reason: "a printed code that is not the edition's leads readers to other figures"}
	all := attack.Public{Map: a.Map, Figures: figures(a.Claims), Recalls: a.recalls()}
	for i, e := range a.Editions {
		text := e.Text()
		sum := edition.Digest(text)
		if sum != e.Digest {
			digest.Found = append(digest.Found, fmt.Sprintf("edition %d gives %x, stored is %x", e.Meta.Number, sum[:4], e.Digest[:4]))
		}
		if want := edition.Code(sum); want != e.Code {
			code.Found = append(code.Found, fmt.Sprintf("edition %d gives %s, printed is %s", e.Meta.Number, want, e.Code))
		}
		read, err := attack.Read(text)
		if err != nil {
			format.Found = append(format.Found, fmt.Sprintf("edition %d: %v", e.Meta.Number, err))
			continue
		}
		all.Editions = append(all.Editions, read)
		if e.Withdrawn {
			all.Withdrawn = append(all.Withdrawn, read.Number)
		}
		report(i+1, len(a.Editions))
	}
	out := []Outcome{format, digest, code}
	for _, at := range attack.All() {
		out = append(out, Outcome{Name: at.Name, Reason: at.Reason, Found: at.Run(all)})
	}
	if a.Claims != nil {
		out = append(out, Outcome{
			Name:   "formats",
			Reason: "whatever a page or a file says must follow from the list of tranches, or it says something else too",
			Found:  check(all, a.Claims),
		})
	}
	return out
}

// recalls are those listed, and the tranches of withdrawn editions.
func (a Archive) recalls() []attack.Recall {
	out := slices.Clone(a.Recalls)
	for _, e := range a.Editions {
		if !e.Withdrawn || e.Meta.Kind == edition.Restated {
			continue
		}
		refs := make([]edition.Ref, 0, len(e.Tranches)+len(e.Again))
		for _, t := range e.Tranches {
			refs = append(refs, t.Ref())
		}
		for _, r := range e.Again {
			refs = append(refs, r.Of)
		}
		for _, r := range refs {
			ref := attack.Ref(r)
			if !slices.ContainsFunc(out, func(r attack.Recall) bool { return r.Of == ref && r.UpTo >= e.Meta.Number }) {
				out = append(out, attack.Recall{Of: ref, UpTo: e.Meta.Number})
			}
		}
	}
	return out
}

// Findings lists what was found, each after the name of its check.
func Findings(outcomes []Outcome) []string {
	var out []string
	for _, o := range outcomes {
		for _, f := range o.Found {
			out = append(out, o.Name+": "+f)
		}
	}
	return out
}

// ErrFound is wrapped by every Error.
var ErrFound = errors.New("the audit found something")

// Error is an edition that must not be released: it would tell a reader what
// the findings say. They speak of editions, tranches and counties, never of a
// sample or a sender.
type Error struct{ Findings []string }

// Refuse is the error for the outcomes, nil where they are clean.
func Refuse(outcomes []Outcome) error {
	if f := Findings(outcomes); len(f) > 0 {
		return &Error{f}
	}
	return nil
}

// Error names the attacks.
func (e *Error) Error() string { return ErrFound.Error() + ": " + strings.Join(e.Findings, "; ") }

// Unwrap makes every Error an ErrFound.
func (e *Error) Unwrap() error { return ErrFound }
