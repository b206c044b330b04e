package office

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// Editions is everything that was ever released.
type Editions interface {
	// List is oldest first.
	List(ctx context.Context) ([]gazette.Listed, error)
	// Find: fault.ErrNotFound when no edition has that printed code.
	Find(ctx context.Context, code string) (int, error)
	// Verify works an edition out again. fault.ErrNotFound: there is none.
	Verify(ctx context.Context, number int) (gazette.Proof, error)
	// Text is the canonical text. fault.ErrNotFound: there is none.
	Text(ctx context.Context, number int) ([]byte, error)
}

// Withdrawals takes whole editions back.
type Withdrawals interface {
	// Withdraw: fault.ErrNotFound when there is none, fault.ErrConflict when it is
	// withdrawn already.
	Withdraw(ctx context.Context, number int, why desk.RecallReason, day time.Time) error
}

// editionsView is all editions, and what was just asked of one.
type editionsView struct {
	Refused []refusal
	Code    field  // the printed code looked for
	Found   string // its edition's number
	Done    string
	Wrong   string // a verification that failed
	Rows    []editionRow

	Number  field // of the edition to take back
	Reason  field
	Confirm field
	Reasons []option
}

// editionRow is one edition.
type editionRow struct {
	Number, Code, Kind, Released, Season, Scheme, Note string
	Text                                               string // address of its canonical text
	Standing                                           bool   // can be withdrawn
	Found                                              bool
}

// option is one value of a list to choose from.
type option struct{ Value, Name string }

// editionsShow lists the editions; with a code it marks the one that prints it.
func (o *office) editionsShow(w http.ResponseWriter, r *http.Request) error {
	v := editionsView{Code: field{Name: "code", Value: shorten(r.URL.Query().Get("code"))}}
	status := http.StatusOK
	if v.Code.Value != "" {
		no, err := o.Editions.Find(r.Context(), v.Code.Value)
		switch {
		case errors.Is(err, fault.ErrNotFound):
			v.Code.Problem, status = o.Lang.Say("editions.problem.code"), http.StatusNotFound
		case err != nil:
			return err
		default:
			v.Found = strconv.Itoa(no)
		}
	}
	return o.showEditions(w, r, status, v)
}

func (o *office) showEditions(w http.ResponseWriter, r *http.Request, status int, v editionsView) error {
	all, err := o.Editions.List(r.Context())
	if err != nil {
		return err
	}
	v.Code.Name, v.Number.Name, v.Reason.Name, v.Confirm.Name = "code", "number", "reason", "confirm"
	v.Reasons = reasons(o.Lang)
	for i := len(all) - 1; i >= 0; i-- {
		v.Rows = append(v.Rows, newEditionRow(o.Lang, all[i], v.Found))
	}
	taking := refusals(v.Number, v.Reason, v.Confirm)
	if len(all) == 0 {
		taking = astray(taking)
	}
	v.Refused = append(refusals(v.Code), taking...)
	p := o.page(r, o.Lang.Say("editions.title"))
	p.Wide = true
	return shell.Render(w, r, status, editionsPage(p, v))
}

func newEditionRow(l *catalog.Lang, e gazette.Listed, found string) editionRow {
	no := strconv.Itoa(e.Number)
	row := editionRow{
		Number: no, Code: e.Code, Kind: l.SayOf("editions.kind", string(e.Kind)), Released: l.Date(e.Released), Season: strconv.Itoa(e.Season),
		Scheme: e.Scheme, Text: "/office/editions/" + no + "/text", Standing: !e.Withdrawn, Found: no == found,
	}
	switch {
	case e.Withdrawn:
		row.Note = l.Say("editions.withdrawn")
	case e.Recalled > 0:
		row.Note = l.Count("editions.recalled", e.Recalled)
	}
	return row
}

func reasons(l *catalog.Lang) (out []option) {
	for _, r := range desk.RecallReasons {
		out = append(out, option{string(r), l.SayOf("recall.reason", string(r))})
	}
	return out
}

// editionsPost verifies an edition or takes one back.
func (o *office) editionsPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	v := editionsView{Number: field{Value: line(form, "number")}}
	no, err := strconv.Atoi(v.Number.Value)
	if err != nil || no < 1 {
		v.Number.Problem = o.Lang.Say("editions.problem.number")
		return o.showEditions(w, r, http.StatusUnprocessableEntity, v)
	}
	if form.Get("do") == "verify" {
		return o.verify(w, r, no)
	}
	return o.withdraw(w, r, no, v, line(form, "reason"), form.Has("confirm"))
}

func (o *office) verify(w http.ResponseWriter, r *http.Request, no int) error {
	proof, err := o.Editions.Verify(r.Context(), no)
	if err != nil {
		return err
	}
	v, status := editionsView{Found: strconv.Itoa(no)}, http.StatusOK
	if proof.OK() {
		v.Done = o.Lang.Count("editions.verified", proof.Results, "number", no)
	} else {
		v.Wrong, status = o.Lang.Say("editions.differs", "number", no, "what", strings.Join(proof.Wrong, ", ")), http.StatusConflict
	}
	return o.showEditions(w, r, status, v)
}

func (o *office) withdraw(w http.ResponseWriter, r *http.Request, no int, v editionsView, reason string, confirmed bool) error {
	v.Reason.Value = reason
	why, ok := readReason(o.Lang, &v.Reason)
	if !confirmed {
		v.Confirm.Problem, ok = o.Lang.Say("recall.problem.confirm"), false
	}
	if !ok {
		return o.showEditions(w, r, http.StatusUnprocessableEntity, v)
	}
	err := o.Withdrawals.Withdraw(r.Context(), no, why, o.Today())
	if errors.Is(err, fault.ErrConflict) {
		v.Number.Problem = o.Lang.Say("editions.problem.gone")
		return o.showEditions(w, r, http.StatusConflict, v)
	}
	if err != nil {
		return err
	}
	o.Log.Info("edition withdrawn", "number", no)
	return o.showEditions(w, r, http.StatusOK, editionsView{Done: o.Lang.Say("editions.done", "number", no)})
}

// editionText is an edition's canonical text as a file.
func (o *office) editionText(w http.ResponseWriter, r *http.Request) error {
	no, err := strconv.Atoi(chi.URLParam(r, "number"))
	if err != nil || no < 1 {
		return fault.ErrNotFound
	}
	text, err := o.Editions.Text(r.Context(), no)
	if err != nil {
		return err
	}
	return sendFile(w, r, "text/plain; charset=utf-8", "edition-"+strconv.Itoa(no)+".txt", text)
}
