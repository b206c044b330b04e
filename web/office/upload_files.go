package office

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strconv"
	"strings"

	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/tabular"
)

// uploadTemplate sends an empty file to fill in.
func (o *office) uploadTemplate(format tabular.Format) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		q := r.URL.Query()
		portions, err := strconv.Atoi(q.Get("portions"))
		if err != nil {
			portions = 2
		}
		t := tabular.Template{Portions: portions, Reported: q.Has("reported")}
		var b bytes.Buffer
		if format == tabular.Workbook {
			err = t.WriteWorkbook(&b, tabular.Dictionary())
		} else {
			err = t.WriteCSV(&b, tabular.Dictionary())
		}
		if err != nil {
			return err
		}
		kind := kindTable
		if format == tabular.Workbook {
			kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
		}
		return sendFile(w, r, kind, "counts."+string(format), b.Bytes())
	}
}

// uploadDictionary sends the data dictionary.
func (o *office) uploadDictionary(w http.ResponseWriter, r *http.Request) error {
	var b bytes.Buffer
	if err := tabular.WriteDictionary(&b, tabular.Dictionary()); err != nil {
		return err
	}
	return sendFile(w, r, kindTable, "columns.csv", b.Bytes())
}

// verdicts sends a verdict for every row of a file, as it is read.
func (o *office) verdicts(w http.ResponseWriter, r *http.Request) error {
	d, err := o.draftOf(r)
	if err != nil {
		return err
	}
	now := d.look()
	if now.Stage != stageRead || now.sheet == nil || now.mapping.Check() != nil {
		return fault.ErrConflict
	}
	defer o.files.take()()
	var b bytes.Buffer
	b.WriteString("\ufeff")
	out := csv.NewWriter(&b)
	out.UseCRLF = true
	head := []string{o.Lang.Say("upload.csv.line"), o.Lang.Say("upload.csv.code"), o.Lang.Say("upload.csv.verdict")}
	if err := out.Write(head); err != nil {
		return err
	}
	err = now.sheet.Each(r.Context(), now.mapping, now.with, func(row tabular.Row) error {
		return out.Write([]string{strconv.Itoa(row.Line), row.Entry.Code.String(), verdictText(o.Lang, row, now.Verdict.fates)})
	})
	if err != nil {
		return err
	}
	out.Flush()
	return sendFile(w, r, kindTable, "verdicts.csv", b.Bytes())
}

// verdictText says what a row came to.
func verdictText(l *catalog.Lang, row tabular.Row, fates map[int]tabular.Problem) string {
	text := ""
	for _, f := range tabular.Fields() {
		if p, there := row.Problems[f]; there {
			text += l.Say("upload.at", "field", fieldName(l, f), "problem", l.SayOf("upload.problem", string(p))) + " "
		}
	}
	if p, there := fates[row.Line]; there && text == "" {
		text = l.SayOf("upload.problem", string(p))
	}
	if text == "" {
		return l.Say("upload.csv.ok")
	}
	return strings.TrimSpace(text)
}
