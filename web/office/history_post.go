package office

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"net/http"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/past"
	"sixmile/internal/sample"
	"sixmile/internal/tabular"
	"sixmile/web/shell"
)

// pastTyped is what was typed beside the file.
type pastTyped struct{ file, srid, unit field }

// historyPost takes a file in, finds its columns, and begins to read its rows.
func (o *office) historyPost(w http.ResponseWriter, r *http.Request) error {
	in, err := receive(r)
	typed := pastTyped{field{Name: "file"}, field{Name: "srid", Value: line(in.fields, "srid")}, field{Name: "unit", Value: line(in.fields, "unit")}}
	refuse := func(f *field, problem string) error {
		f.Problem = problem
		return o.showHistory(w, r, http.StatusUnprocessableEntity, typed)
	}
	var file *tabular.FileError
	if errors.As(err, &file) {
		return refuse(&typed.file, fileProblem(o.Lang, file))
	}
	if err != nil {
		return err
	}
	srid, err := o.system(r.Context(), typed.srid.Value)
	switch {
	case errors.Is(err, errNoNumber):
		return refuse(&typed.srid, o.Lang.Say("past.srid.bad"))
	case errors.Is(err, past.ErrSystem):
		return refuse(&typed.srid, o.Lang.Say("past.srid.unknown"))
	case err != nil:
		return err
	}
	memory, err := o.PastLoads.Memory(r.Context())
	if err != nil {
		return err
	}
	sheet, err := past.Open(in.data, memory)
	if errors.As(err, &file) {
		return refuse(&typed.file, fileProblem(o.Lang, file))
	}
	if err != nil {
		return err
	}
	token, err := sample.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	unit, _ := assay.ParseUnit(typed.unit.Value) // none picked
	guess := past.Guess(sheet)
	f := o.pastFiles.put(token, shell.Staff(r).ID, pastState{
		progress: progress{Stage: stageRead}, Name: in.name, Rows: sheet.Rows, sheet: sheet, mapping: guess, srid: srid, unit: unit})
	if past.Check(guess) == nil {
		if err := begin(f, stageReading); err != nil {
			return err
		}
		work(r.Context(), o, f, stageRead, func(ctx context.Context) error { return o.judgePast(ctx, f) })
	}
	http.Redirect(w, r, "/office/history/"+token.String(), http.StatusSeeOther)
	return nil
}

// system reads the number of a coordinate system; 0 for nothing typed.
func (o *office) system(ctx context.Context, typed string) (int, error) {
	if typed == "" {
		return 0, nil
	}
	crs, err := geofile.ParseCRS(typed)
	if err != nil || crs.EPSG == 0 {
		return 0, errNoNumber
	}
	known, err := o.PastGround.Known(ctx, crs.EPSG)
	if err == nil && !known {
		err = past.ErrSystem
	}
	return crs.EPSG, err
}

func (o *office) pastFileOf(r *http.Request) (*pastFile, error) {
	return o.pastFiles.find(chi.URLParam(r, "token"), shell.Staff(r).ID)
}

// historyFilePost reads a file anew by the columns picked, loads it, or forgets it.
func (o *office) historyFilePost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	f, err := o.pastFileOf(r)
	if err != nil {
		return err
	}
	back := func() error {
		http.Redirect(w, r, r.URL.Path, http.StatusSeeOther)
		return nil
	}
	now := f.look()
	switch form.Get("do") {
	case "forget":
		o.pastFiles.drop(f)
		http.Redirect(w, r, "/office/history", http.StatusSeeOther)
		return nil
	case "take":
		if now.Stage == stageTaken || now.Stage == stageStoring {
			return back() // pressed twice
		}
		if !now.readyToTake() {
			return o.showPastFile(w, r, http.StatusConflict, f, nil)
		}
		memory, err := o.PastLoads.Memory(r.Context())
		if err != nil {
			return err
		}
		if err := o.PastLoads.Remember(r.Context(), past.Remembered(now.sheet, now.mapping, memory)); err != nil {
			return err
		}
		if begin(f, stageStoring) != nil {
			return back()
		}
		work(r.Context(), o, f, stageTaken, func(ctx context.Context) error { return o.takePast(ctx, f) })
		return back()
	}
	if now.sheet == nil {
		return fault.ErrConflict
	}
	m := readMapping(form, len(now.mapping.Columns))
	if begin(f, stageReading) != nil {
		return back()
	}
	f.set(func(s *pastState) { s.mapping, s.Verdict = m, past.Verdict{} })
	var invalid *assay.Invalid
	if errors.As(past.Check(m), &invalid) {
		f.set(func(s *pastState) { s.Stage = stageRead })
		return o.showPastFile(w, r, http.StatusUnprocessableEntity, f, invalid.Fields)
	}
	work(r.Context(), o, f, stageRead, func(ctx context.Context) error { return o.judgePast(ctx, f) })
	return back()
}

// historyTemplate sends an empty file to fill in.
func (o *office) historyTemplate(w http.ResponseWriter, r *http.Request) error {
	var b bytes.Buffer
	if err := past.WriteTemplate(&b); err != nil {
		return err
	}
	return sendFile(w, r, kindTable, "earlier-years.csv", b.Bytes())
}

// historyDictionary sends what each column may hold.
func (o *office) historyDictionary(w http.ResponseWriter, r *http.Request) error {
	var b bytes.Buffer
	head := [2]string{o.Lang.Say("upload.col.column"), o.Lang.Say("upload.col.holds")}
	err := past.WriteDictionary(&b, head, func(f tabular.Field) (string, string) {
		return o.Lang.SayOf("past.field", string(f)), o.Lang.SayOf("past.about", string(f))
	})
	if err != nil {
		return err
	}
	return sendFile(w, r, kindTable, "columns.csv", b.Bytes())
}
