package office

import (
	"bytes"
	"context"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/press"
	"sixmile/internal/tray"
	"sixmile/web/shell"
)

// Cups are the cups of one tray.
type Cups interface {
	// Tray: fault.ErrNotFound for a tray with nothing in it.
	Tray(ctx context.Context, season, no int) ([]desk.Cup, error)
	// KeyControl: fault.ErrNotFound when no control stands in that cup.
	KeyControl(ctx context.Context, season, no, cup int, c assay.Count, m assay.Method, by account.ID, today time.Time) error
}

// trayView is the page of one tray.
type trayView struct {
	No, Path, Labels string
	Cups             []cupRow
	Controls         []controlForm
	Refused          []refusal
	Saved            string
}

type cupRow struct {
	No, What, Code, Raw, State string
}

// controlForm is the form of a blank or a check sample.
type controlForm struct {
	Cup    string
	Label  string
	Done   string
	Eggs   field
	Cyst   field
	Ticked bool
}

func (o *office) trayOne(w http.ResponseWriter, r *http.Request) error {
	return o.showTray(w, r, http.StatusOK, nil, "")
}

// trayOf reads the tray that an address names.
func (o *office) trayOf(r *http.Request) (season, no int, cups []desk.Cup, err error) {
	no, err = strconv.Atoi(chi.URLParam(r, "no"))
	if err != nil {
		return 0, 0, nil, fault.ErrNotFound
	}
	s, err := o.season(r)
	if err != nil {
		return 0, 0, nil, err
	}
	cups, err = o.Cups.Tray(r.Context(), s.Year, no)
	return s.Year, no, cups, err
}

// showTray shows a tray; typed is what was keyed for one control and refused.
func (o *office) showTray(w http.ResponseWriter, r *http.Request, status int, typed *controlForm, saved string) error {
	_, no, cups, err := o.trayOf(r)
	if err != nil {
		return err
	}
	v := newTrayView(o.Lang, no, cups, typed)
	v.Saved = saved
	return shell.Render(w, r, status, trayPage(o.page(r, o.Lang.Say("tray.one.title", "no", v.No)), v))
}

func newTrayView(l *catalog.Lang, no int, cups []desk.Cup, typed *controlForm) trayView {
	n := strconv.Itoa(no)
	v := trayView{No: n, Path: "/office/trays/" + n, Labels: "/office/trays/" + n + "/labels.pdf"}
	for _, c := range cups {
		row := cupRow{No: strconv.Itoa(c.No), What: l.SayOf("tray.kind", c.Kind.String())}
		if c.Code != "" {
			row.Code, row.Raw, row.State = c.Code.String(), string(c.Code), l.SayOf("bag.state", string(c.State))
		}
		if c.Kind == tray.Sample && c.Code == "" {
			row.What = l.Say("tray.cup.free")
		}
		if c.Kind != tray.Sample {
			f := controlForm{Cup: row.No, Label: l.Say("tray.control", "kind", row.What, "cup", row.No),
				Eggs: field{Name: "eggs-" + row.No}, Cyst: field{Name: "cyst-" + row.No}}
			if typed != nil && typed.Cup == f.Cup {
				f.Eggs, f.Ticked = typed.Eggs, typed.Ticked
			}
			if c.Control != nil {
				f.Done = l.Say("tray.control.done", "density", eggs(l, float64(c.Control.Density)), "day", l.Date(c.Control.Day))
				row.State = f.Done
			}
			v.Controls = append(v.Controls, f)
			v.Refused = append(v.Refused, refusals(f.Eggs)...)
		}
		v.Cups = append(v.Cups, row)
	}
	return v
}

// trayPost keys a blank or a check sample, by the lab's usual method.
func (o *office) trayPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	season, no, _, err := o.trayOf(r)
	if err != nil {
		return err
	}
	cup, err := strconv.Atoi(line(form, "cup"))
	if err != nil {
		return fault.ErrNotFound
	}
	f := controlForm{Cup: strconv.Itoa(cup), Eggs: field{Name: "eggs-" + strconv.Itoa(cup)}}
	f.Eggs.Value, f.Ticked = line(form, f.Eggs.Name), form.Has("cyst-"+f.Cup)
	l, err := o.lab(r.Context())
	if err != nil {
		return err
	}
	m := l.methods[0]
	n, err := assay.ParseEggs(f.Eggs.Value)
	c := m.Count(n)
	c.CystSeen = f.Ticked
	if err == nil {
		_, err = c.Density(m)
	}
	if err != nil {
		f.Eggs.Problem = o.Lang.Say("tray.problem.eggs")
		return o.showTray(w, r, http.StatusUnprocessableEntity, &f, "")
	}
	if err := o.Cups.KeyControl(r.Context(), season, no, cup, c, m, shell.Staff(r).ID, o.Today()); err != nil {
		return err
	}
	return o.showTray(w, r, http.StatusOK, nil, o.Lang.Say("tray.control.saved", "cup", f.Cup))
}

// trayLabels prints the labels of a tray's cups.
func (o *office) trayLabels(w http.ResponseWriter, r *http.Request) error {
	_, no, cups, err := o.trayOf(r)
	if err != nil {
		return err
	}
	var labels []press.CupLabel
	for _, c := range cups {
		label := press.CupLabel{Tray: no, Cup: c.No, Code: c.Code}
		if c.Kind != tray.Sample {
			label.Note = o.Lang.SayOf("tray.kind", c.Kind.String())
		}
		labels = append(labels, label)
	}
	var pdf bytes.Buffer
	words := press.CupWords{Lang: o.Lang.Tag(), Title: o.Lang.Say("tray.labels.title", "no", strconv.Itoa(no)), Tray: o.Lang.Say("tray.labels.tray"), Cup: o.Lang.Say("tray.labels.cup")}
	if err := press.CupLabels(&pdf, labels, words); err != nil {
		return err
	}
	return showPDF(w, r, "tray-"+strconv.Itoa(no)+".pdf", pdf.Bytes())
}
