package office

import (
	"context"
	"net/http"

	"sixmile/internal/atlas"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

// Sheets makes published maps with the office's own words on them.
type Sheets interface {
	// OwnSheet: fault.ErrNotFound for what is on no list.
	OwnSheet(ctx context.Context, l *catalog.Lang, o desk.SheetOrder) (desk.SheetFile, error)
}

// What the office may write on a map, in characters: what fits on every paper.
const (
	mostTitle    = 70
	mostFootnote = 200
)

// sheetView is the page on which a map gets the office's own words.
type sheetView struct {
	Refused                   []refusal
	Title, Footnote           field
	Counties, Shows, Papers   []option
	County, Show, Paper, Look string // chosen
	Looks                     []option
}

func (o *office) sheetShow(w http.ResponseWriter, r *http.Request) error {
	return o.showSheet(w, r, http.StatusOK, sheetView{County: r.URL.Query().Get("county")})
}

func (o *office) showSheet(w http.ResponseWriter, r *http.Request, status int, v sheetView) error {
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	v.Title.Name, v.Footnote.Name = "title", "footnote"
	for _, c := range counties(places) {
		v.Counties = append(v.Counties, option{c.Slug, c.Label()})
	}
	for _, m := range atlas.Measures() {
		v.Shows = append(v.Shows, option{m.String(), o.Lang.SayOf("paper.measure", m.String())})
	}
	for _, p := range atlas.Papers() {
		if o.Lang.Has("paper.paper." + p.String()) { // the others follow a page's width
			v.Papers = append(v.Papers, option{p.String(), o.Lang.SayOf("paper.paper", p.String())})
		}
	}
	for _, t := range press.Themes() {
		v.Looks = append(v.Looks, option{t.String(), o.Lang.SayOf("paper.look", t.String())})
	}
	v.Refused = refusals(v.Title, v.Footnote)
	return shell.Render(w, r, status, sheetPage(o.page(r, o.Lang.Say("sheet.title")), v))
}

// sheetPost answers with the file.
func (o *office) sheetPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	v := sheetView{County: form.Get("county"), Show: form.Get("show"), Paper: form.Get("paper"), Look: form.Get("look"),
		Title: field{Value: line(form, "title")}, Footnote: field{Value: line(form, "footnote")}}
	if n := len([]rune(v.Title.Value)); n > mostTitle {
		v.Title.Problem = o.Lang.Say("sheet.problem.long", "most", mostTitle, "n", n)
	}
	if n := len([]rune(v.Footnote.Value)); n > mostFootnote {
		v.Footnote.Problem = o.Lang.Say("sheet.problem.long", "most", mostFootnote, "n", n)
	}
	if v.Title.Problem != "" || v.Footnote.Problem != "" {
		return o.showSheet(w, r, http.StatusUnprocessableEntity, v)
	}
	kind := form.Get("do")
	if kind != "pdf" && kind != "png" {
		return fault.ErrNotFound
	}
	f, err := o.Sheets.OwnSheet(r.Context(), o.Lang, desk.SheetOrder{County: v.County, Show: v.Show, Paper: v.Paper, Look: v.Look, Kind: kind,
		Title: v.Title.Value, Footnote: v.Footnote.Value})
	if err != nil {
		return err
	}
	return sendFile(w, r, f.Kind, f.Name, f.Body)
}
