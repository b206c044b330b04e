package office

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
)

type fakeSheets struct {
	calls
	order desk.SheetOrder
}

func (f *fakeSheets) OwnSheet(_ context.Context, _ *catalog.Lang, o desk.SheetOrder) (desk.SheetFile, error) {
	f.hit()
	if f.order = o; o.County != "plover" {
		return desk.SheetFile{}, fault.ErrNotFound
	}
	return desk.SheetFile{Name: "plover-map.pdf", Kind: "application/pdf", Body: []byte("%PDF")}, nil
}

func TestAMapWithOnesOwnTitle(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, account.Educator, "/office/sheet?county=sedge")
	require.Equal(t, http.StatusOK, page.status)
	require.Equal(t, "sedge", page.attr("#county option[selected]", "value"))
	require.NotContains(t, page.text("main"), "[")

	file := w.post(t, account.Educator, "/office/sheet", "do", "pdf", "county", "plover", "show", "share", "paper", "slide", "look", "ink",
		"title", " Grange hall, December 3 ", "footnote", "Ask at the office.")
	require.Equal(t, http.StatusOK, file.status)
	require.Equal(t, "%PDF", file.body)
	require.Contains(t, file.header.Get("Content-Disposition"), "plover-map.pdf")
	require.Equal(t, desk.SheetOrder{County: "plover", Show: "share", Paper: "slide", Look: "ink", Kind: "pdf",
		Title: "Grange hall, December 3", Footnote: "Ask at the office."}, w.sheets.order)

	long := w.post(t, account.Educator, "/office/sheet", "do", "pdf", "county", "plover", "show", "typical", "title", strings.Repeat("a", 80)+"<script>")
	require.Equal(t, http.StatusUnprocessableEntity, long.status)
	require.Contains(t, long.text("#title-wrong"), "That is 88 characters; a map has room for 70.")
	require.Equal(t, "typical", long.attr("#show option[selected]", "value"), "what was chosen is kept")
	require.Equal(t, http.StatusNotFound, w.post(t, account.Educator, "/office/sheet", "do", "pdf", "county", "nowhere").status)
	require.Equal(t, http.StatusNotFound, w.post(t, account.Educator, "/office/sheet", "do", "exe", "county", "plover").status)
	require.Equal(t, http.StatusForbidden, w.get(t, account.Technician, "/office/sheet").status)
}
