package office

import (
	"context"
	"crypto/rand"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
	"sixmile/internal/tabular"
	"sixmile/web/shell"
)

// maxUpload is the most bytes of a sending: a file and the few fields beside it.
const maxUpload = tabular.MaxFile + 64<<10

// sent is a form with a file.
type sent struct {
	name   string
	data   []byte
	fields url.Values
}

// receive reads a form with a file, part by part into memory: nothing goes to
// temporary files.
func receive(r *http.Request) (sent, error) {
	in := sent{fields: url.Values{}}
	parts, err := r.MultipartReader()
	if err != nil {
		return in, nil // no form with a file: as if nothing had been sent
	}
	for range 16 {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return in, nil
		}
		if err != nil {
			return in, tooLargeOr(err)
		}
		most := int64(1 << 10)
		if part.FormName() == "file" {
			most = tabular.MaxFile + 1
		}
		b, err := io.ReadAll(io.LimitReader(part, most))
		if err != nil {
			return in, tooLargeOr(err)
		}
		if part.FormName() == "file" {
			in.name, in.data = shorten(part.FileName()), b
		} else {
			in.fields.Add(part.FormName(), string(b))
		}
	}
	return in, nil
}

// tooLargeOr keeps the error of a body over the limit, and takes any other for a
// sending that broke off.
func tooLargeOr(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return &tabular.FileError{Problem: tabular.TooBig}
	}
	return &tabular.FileError{Problem: tabular.Broken}
}

// uploadPost takes a file in, finds its columns, and begins to read its rows.
func (o *office) uploadPost(w http.ResponseWriter, r *http.Request) error {
	in, err := receive(r)
	day := field{Name: "day", Value: line(in.fields, "day")}
	refuse := func(problem string) error {
		return o.showUpload(w, r, http.StatusUnprocessableEntity, problem, day, line(in.fields, "method"))
	}
	var file *tabular.FileError
	if errors.As(err, &file) {
		return refuse(fileProblem(o.Lang, file))
	}
	with, problem, err := o.setup(r.Context(), in.fields)
	if err != nil {
		return err
	}
	if problem != "" {
		day.Problem = problem
		return refuse("")
	}
	memory, err := o.Uploads.Memory(r.Context())
	if err != nil {
		return err
	}
	sheet, err := tabular.Open(in.data, memory)
	if errors.As(err, &file) {
		return refuse(fileProblem(o.Lang, file))
	}
	if err != nil {
		return err
	}
	token, err := sample.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	guess := sheet.Guess()
	d := o.drafts.put(token, shell.Staff(r).ID, draftState{
		progress: progress{Stage: stageRead}, Name: in.name, sheet: sheet, mapping: guess, with: with})
	if guess.Check() == nil {
		if err := begin(d, stageReading); err != nil {
			return err
		}
		work(r.Context(), o, d, stageRead, func(ctx context.Context) error { return o.read(ctx, d) })
	}
	http.Redirect(w, r, "/office/upload/"+token.String(), http.StatusSeeOther)
	return nil
}

// setup is what rows go by where they do not say themselves.
func (o *office) setup(ctx context.Context, form url.Values) (with tabular.Setup, problem string, err error) {
	l, err := o.lab(ctx)
	if err != nil {
		return with, "", err
	}
	with.Methods, with.Latest = l.methods, o.Today()
	with.Method, _ = findMethod(l.methods, line(form, "method"))
	if typed := line(form, "day"); typed != "" {
		if with.Day, err = sample.ParseDay(typed); err != nil || with.Day.After(o.Today()) {
			return with, o.Lang.Say("tray.problem.day"), nil
		}
	}
	seasons, err := o.Program.Seasons(ctx)
	if err != nil {
		return with, "", err
	}
	with.Earliest = time.Date(o.Today().Year()-2, time.January, 1, 0, 0, 0, 0, time.UTC)
	if s, ok := currentSeason(seasons, o.Today()); ok && s.Opens.Before(with.Earliest) {
		with.Earliest = s.Opens
	}
	return with, "", nil
}

// draftPost reads a file anew by the columns picked, or takes it.
func (o *office) draftPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	d, err := o.draftOf(r)
	if err != nil {
		return err
	}
	back := func() error {
		http.Redirect(w, r, r.URL.Path, http.StatusSeeOther)
		return nil
	}
	switch form.Get("do") {
	case "forget":
		o.drafts.drop(d)
		http.Redirect(w, r, "/office/upload", http.StatusSeeOther)
		return nil
	case "take":
		now := d.look()
		if now.Stage == stageTaken || now.Stage == stageStoring {
			return back() // pressed twice
		}
		if now.Stage != stageRead || !now.Verdict.ready() {
			return o.showDraft(w, r, http.StatusConflict, d, nil)
		}
		if err := o.Uploads.Remember(r.Context(), now.sheet.Remember(now.mapping)); err != nil {
			return err
		}
		if err := begin(d, stageStoring); err != nil {
			return back()
		}
		work(r.Context(), o, d, stageTaken, func(ctx context.Context) error { return o.take(ctx, d) })
		return back()
	}
	return o.remap(w, r, d, form)
}

// remap reads the file by other columns.
func (o *office) remap(w http.ResponseWriter, r *http.Request, d *draft, form url.Values) error {
	now := d.look()
	if now.sheet == nil {
		return fault.ErrConflict
	}
	m := readMapping(form, len(now.mapping.Columns))
	if err := begin(d, stageReading); err != nil {
		http.Redirect(w, r, r.URL.Path, http.StatusSeeOther)
		return nil
	}
	why, _ := assay.ParseCorrection(line(form, "why")) // none: rows that need one say so
	d.set(func(d *draftState) { d.mapping, d.why = m, why })
	var invalid *assay.Invalid
	if errors.As(m.Check(), &invalid) {
		d.set(func(d *draftState) { d.Stage, d.Verdict = stageRead, verdict{} })
		return o.showDraft(w, r, http.StatusUnprocessableEntity, d, invalid.Fields)
	}
	work(r.Context(), o, d, stageRead, func(ctx context.Context) error { return o.read(ctx, d) })
	http.Redirect(w, r, r.URL.Path, http.StatusSeeOther)
	return nil
}

// readMapping reads what so many columns were said to hold.
func readMapping(form url.Values, columns int) tabular.Mapping {
	m := tabular.Mapping{Columns: make([]tabular.Column, columns)}
	for i := range m.Columns {
		m.Columns[i] = readColumn(line(form, "column-"+strconv.Itoa(i)))
	}
	if n, err := strconv.Atoi(line(form, "decimal")); err == nil && n >= 0 && n <= int(tabular.DecimalComma) {
		m.Decimal = tabular.Decimal(n)
	}
	return m
}

// readColumn reads what columnKey wrote.
func readColumn(s string) tabular.Column {
	name, unit, _ := strings.Cut(s, ".")
	c := tabular.Column{Field: tabular.Field(name)}
	if n, err := strconv.Atoi(unit); err == nil && n > 0 && n <= len(assay.Units()) {
		c.Unit = assay.Unit(n)
	}
	return c
}
