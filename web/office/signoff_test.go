package office

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
)

// fakeSignOff signs what is in its list.
type fakeSignOff struct {
	calls
	list    []desk.Unsigned
	batches []desk.Batch
	slips   []desk.Signed
	before  func()
}

func (f *fakeSignOff) Unsigned(context.Context) ([]desk.Unsigned, error) {
	f.hit()
	return slices.Clone(f.list), nil
}

func (f *fakeSignOff) Sign(_ context.Context, results []desk.ID, _ account.ID, today time.Time) (desk.ID, int, error) {
	f.hit()
	if f.before != nil {
		f.before()
	}
	for _, id := range results {
		if !slices.ContainsFunc(f.list, func(u desk.Unsigned) bool { return u.Result == id }) {
			return desk.ID{}, 0, fault.ErrConflict
		}
	}
	f.list = slices.DeleteFunc(f.list, func(u desk.Unsigned) bool { return slices.Contains(results, u.Result) })
	b := desk.Batch{ID: desk.ID{77, byte(len(f.batches))}, Day: today, By: "coordinator", Bags: len(results)}
	f.batches = append([]desk.Batch{b}, f.batches...)
	return b.ID, len(results), nil
}

func (f *fakeSignOff) Batches(context.Context, int) ([]desk.Batch, error) {
	f.hit()
	return f.batches, nil
}

func (f *fakeSignOff) Slips(_ context.Context, id desk.ID) ([]desk.Signed, error) {
	f.hit()
	if !slices.ContainsFunc(f.batches, func(b desk.Batch) bool { return b.ID == id }) {
		return nil, fault.ErrNotFound
	}
	return f.slips, nil
}

func reading(eggs int) assay.Reading {
	m := assay.DefaultMethod()
	r, err := m.Count(eggs).Density(m)
	if err != nil {
		panic(err)
	}
	return r
}

func inventedUnsigned() *fakeSignOff {
	m := assay.DefaultMethod()
	return &fakeSignOff{list: []desk.Unsigned{
		{Result: desk.ID{51}, Code: codes[0], Place: 11, County: 1, Day: date(2026, 11, 20), Reading: reading(42), Method: m,
			Held: []desk.Hold{desk.FirstInTownship, desk.FirstInCounty}},
		{Result: desk.ID{52}, Code: codes[1], Place: 12, County: 1, Day: date(2026, 11, 20), Reading: reading(0), Method: m},
		{Result: desk.ID{53}, Code: codes[2], Place: 1, County: 1, Day: date(2026, 11, 21), Reading: assay.Reading{Basis: assay.Reported, Density: 900},
			Method: m, Why: assay.Mistyped, Before: true},
	}, slips: []desk.Signed{
		{Code: codes[0], County: 1, Season: 2026, Reading: reading(42), Method: m, Changed: true},
		{Code: codes[1], County: 1, Season: 2026, Reading: reading(3), Method: m, Follow: codes[5]},
	}}
}

// What nobody has to look at is ticked; first finds are not.
func TestSignOff(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, account.Coordinator, "/office/sign-off")
	require.Equal(t, http.StatusOK, page.status)
	require.Equal(t, 3, page.Find("input[name=result]").Length())
	require.Equal(t, 2, page.Find("input[name=result][checked]").Length())
	require.Contains(t, page.text("main"), "First find in this township. First find in this county.")
	require.Contains(t, page.text("main"), "2,100 1,513 to 2,839 moderate")
	require.Contains(t, page.text("main"), "Corrects an answer that may have been read: The figure keyed was not the figure counted.")
	require.Equal(t, 1, page.Find("button[autofocus]").Length())

	var form []string
	page.Find("input[name=result][checked]").Each(func(_ int, s *goquery.Selection) { form = append(form, "result", s.AttrOr("value", "")) })
	done := w.post(t, account.Coordinator, "/office/sign-off", form...)
	require.Equal(t, http.StatusSeeOther, done.status)
	page = w.get(t, account.Coordinator, done.header.Get("Location"))
	require.Contains(t, page.text(".saved"), "2 answers signed.")
	slips := page.attr(".saved a", "href")
	require.Equal(t, 1, page.Find("input[name=result]").Length())

	pdf := w.get(t, account.Coordinator, slips)
	require.Equal(t, http.StatusOK, pdf.status)
	require.Equal(t, "application/pdf", pdf.header.Get("Content-Type"))
	require.True(t, strings.HasPrefix(pdf.body, "%PDF"))
	require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, "/office/sign-off/0102/slips.pdf").status)
	require.Equal(t, http.StatusNotFound, w.get(t, account.Coordinator, "/office/sign-off/"+idText(desk.ID{1})+"/slips.pdf").status)

	empty := w.post(t, account.Coordinator, "/office/sign-off")
	require.Equal(t, http.StatusUnprocessableEntity, empty.status)
	require.Contains(t, empty.text(".problems"), "Check the counts")
	require.Equal(t, http.StatusNotFound, w.post(t, account.Coordinator, "/office/sign-off", "result", "x").status)
}

func TestSignOffOfACountThatChangedMeanwhile(t *testing.T) {
	w := newWorld(t)
	w.signoff.before = func() { w.signoff.list[1].Result = desk.ID{99} }
	got := w.post(t, account.Coordinator, "/office/sign-off", "result", idText(desk.ID{52}), "result", idText(desk.ID{53}))
	require.Equal(t, http.StatusConflict, got.status)
	require.Contains(t, got.text(".problems"), "Nothing was signed")
	require.Equal(t, 1, got.Find("input[name=result][checked]").Length(), "what was ticked stays ticked; what is new is not")
	require.Empty(t, w.signoff.batches)
}
