package office

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
	"sixmile/web/shell"
)

// Outlooks keeps the figures that rotations are looked ahead with.
type Outlooks interface {
	List(ctx context.Context) ([]lookahead.Set, error)
	// Add puts a set in force as the next version of its name. The error is
	// fault.ErrConflict where another was put in force since the label given.
	Add(ctx context.Context, s lookahead.Set, from string, today time.Time) (lookahead.Set, error)
}

// paramsView is the page of parameter sets: those there are, and a form filled
// with one of them.
type paramsView struct {
	Sets    []paramsSet
	From    string // label of the set in force that the form was made from
	Name    field
	Note    field
	Figures []paramsFigure
	Refused []refusal
	Saved   string
	Held    string // how the set in force does against published counts
	Stale   bool   // somebody else was faster
}

// paramsSet is a line of the list.
type paramsSet struct {
	Label, Note, Name string
	Version           int
	InForce           bool
}

// paramsFigure is one figure's row in the form.
type paramsFigure struct {
	Key             string
	One             bool // a single number
	Low, Mean, High field
	Source          field
	Limits          string
	Problem         string
}

// paramsTyped is a form as typed; without it the form shows the set in force.
type paramsTyped map[string]string

func (o *office) paramsShow(w http.ResponseWriter, r *http.Request) error {
	return o.showParams(w, r, http.StatusOK, nil, nil, paramsView{})
}

func (o *office) showParams(w http.ResponseWriter, r *http.Request, status int, typed paramsTyped, bad map[string]string, v paramsView) error {
	sets, err := o.Outlooks.List(r.Context())
	if err != nil {
		return err
	}
	for i, s := range sets {
		v.Sets = append(v.Sets, paramsSet{Label: s.Label(), Note: s.Note, Name: s.Name, Version: s.Version, InForce: i == 0})
	}
	current := sets[0]
	v.From = current.Label()
	if typed == nil {
		typed = typedSet(current)
	}
	if v.Stale {
		v.From = typed["from"]
	}
	held, err := current.Against(lookahead.Trials())
	if err != nil {
		return err
	}
	inside := 0
	for _, h := range held {
		if h.Inside {
			inside++
		}
	}
	v.Held = o.Lang.Count("look.trials.held", len(held), "inside", inside)
	v.fill(o, typed, bad)
	p := o.page(r, o.Lang.Say("params.title"))
	p.Wide = true
	return shell.Render(w, r, status, paramsPage(p, v))
}

// fill makes the form's fields of what was typed.
func (v *paramsView) fill(o *office, typed paramsTyped, bad map[string]string) {
	v.Name = field{"name", typed["name"], bad["name"]}
	v.Note = field{"note", typed["note"], bad["note"]}
	v.Refused = refusals(v.Name, v.Note)
	for _, rule := range lookahead.Rules {
		key := string(rule.Key)
		at := func(part string) field { return field{key + "." + part, typed[key+"."+part], bad[key+"."+part]} }
		f := paramsFigure{Key: key, One: rule.Shape == lookahead.One, Low: at("low"), Mean: at("mean"), High: at("high"), Source: at("source"), Problem: bad[key],
			Limits: o.Lang.Say("params.limits", "low", plain(rule.Low), "high", plain(rule.High))}
		if f.Problem != "" {
			f.Mean.Problem = f.Problem
		}
		v.Refused = append(v.Refused, refusals(f.Low, f.Mean, f.High, f.Source)...)
		v.Figures = append(v.Figures, f)
	}
}

// paramsPost puts a changed set in force.
func (o *office) paramsPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	typed := paramsTyped{"name": line(form, "name"), "note": long(form.Get("note")), "from": line(form, "from")}
	for _, rule := range lookahead.Rules {
		for _, part := range []string{"low", "mean", "high"} {
			typed[string(rule.Key)+"."+part] = line(form, string(rule.Key)+"."+part)
		}
		typed[string(rule.Key)+".source"] = long(form.Get(string(rule.Key) + ".source"))
	}
	set, bad := o.readParams(typed)
	if len(bad) > 0 {
		return o.showParams(w, r, http.StatusUnprocessableEntity, typed, bad, paramsView{})
	}
	added, err := o.Outlooks.Add(r.Context(), set, typed["from"], o.Today())
	if errors.Is(err, fault.ErrConflict) {
		return o.showParams(w, r, http.StatusConflict, typed, nil, paramsView{Stale: true})
	}
	if err != nil {
		return err
	}
	o.Log.Info("look-ahead figures put in force")
	return o.showParams(w, r, http.StatusOK, nil, nil, paramsView{Saved: o.Lang.Say("params.saved", "name", added.Name, "version", strconv.Itoa(added.Version))})
}

// readParams reads a set, with what is wrong with it by field.
func (o *office) readParams(typed paramsTyped) (lookahead.Set, map[string]string) {
	bad := map[string]string{}
	set := lookahead.Set{Name: typed["name"], Note: typed["note"], Figures: map[lookahead.Key]lookahead.Figure{}}
	for _, rule := range lookahead.Rules {
		key := string(rule.Key)
		number := func(part string) float64 {
			x, err := assay.ParseNumber(typed[key+"."+part])
			if err != nil {
				bad[key+"."+part] = o.Lang.Say("params.problem.number", "figure", o.Lang.SayOf("look.figure", key))
			}
			return x
		}
		f := lookahead.Figure{Mean: number("mean"), Source: typed[key+".source"]}
		f.Low, f.High = f.Mean, f.Mean
		if rule.Shape != lookahead.One {
			f.Low, f.High = number("low"), number("high")
		}
		set.Figures[rule.Key] = f
	}
	var invalid *lookahead.Invalid
	if len(bad) == 0 && errors.As(set.Check(), &invalid) {
		for name, p := range invalid.Fields {
			at, say := name, o.Lang.SayOf("params.problem", string(p))
			if name != "name" && name != "note" {
				say = o.Lang.Say("params.problem.at", "figure", o.Lang.SayOf("look.figure", name), "problem", say)
			}
			if p == lookahead.NoSource || p == lookahead.TooLong && name != "note" {
				at = name + ".source"
			}
			bad[at] = say
		}
	}
	return set, bad
}

// typedSet is a set as it would be typed.
func typedSet(s lookahead.Set) paramsTyped {
	typed := paramsTyped{"name": s.Name, "note": s.Note}
	for key, f := range s.Figures {
		typed[string(key)+".low"], typed[string(key)+".mean"], typed[string(key)+".high"] = plain(f.Low), plain(f.Mean), plain(f.High)
		typed[string(key)+".source"] = f.Source
	}
	return typed
}

func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// long is a typed text as one line, whatever its field broke it into, and bounded a little above what is taken so that one that is
// too long can be shown again and refused.
func long(s string) string {
	s = strings.Join(strings.Fields(strings.ToValidUTF8(s, "\uFFFD")), " ")
	if r := []rune(s); len(r) > 2*lookahead.MaxText {
		return string(r[:2*lookahead.MaxText])
	}
	return s
}
