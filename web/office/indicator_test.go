package office

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/virulence"
)

// fakeIndicators knows codes[0] and codes[1].
type fakeIndicators struct {
	calls
	tests map[bag.Code]desk.Indicator
}

func (f *fakeIndicators) Find(_ context.Context, c bag.Code) (desk.Indicator, error) {
	f.hit()
	if c != codes[0] && c != codes[1] {
		return desk.Indicator{}, fault.ErrNotFound
	}
	return f.tests[c], nil
}

func (f *fakeIndicators) List(context.Context, int) ([]desk.Indicator, error) {
	f.hit()
	var out []desk.Indicator
	for _, t := range f.tests {
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b desk.Indicator) int { return cmp.Or(a.Day.Compare(b.Day), cmp.Compare(a.Code, b.Code)) })
	return out, nil
}

func (f *fakeIndicators) Record(ctx context.Context, c bag.Code, t virulence.Test, replaces desk.ID, _ account.ID, day time.Time) error {
	was, err := f.Find(ctx, c)
	if err != nil {
		return err
	}
	if was.ID != replaces {
		return fault.ErrConflict
	}
	f.tests[c] = desk.Indicator{ID: desk.ID{byte(90 + len(f.tests))}, Code: c, Season: 2026, Day: day, Test: t}
	return t.Valid()
}

// Closed is one fall with enough senders in Plover, one with too few.
func (f *fakeIndicators) Closed(context.Context, time.Time) ([]desk.IndicatorFall, error) {
	f.hit()
	fall := desk.IndicatorFall{Season: 2025, K: 3}
	for i := range byte(4) {
		s := virulence.Sent{County: 1, Sender: [16]byte{i + 1}, Sure: true}
		if i > 0 {
			s.Type.Elevated = []virulence.Line{virulence.PI88788}
		}
		fall.Tests = append(fall.Tests, s)
	}
	fall.Tests = append(fall.Tests, virulence.Sent{County: 2, Sender: [16]byte{9}, Sure: true})
	return []desk.IndicatorFall{fall, {Season: 2024, K: 3, Tests: fall.Tests[:2]}}, nil
}

// What may be told is told by region: a lone sender's county goes with another.
func TestIndicatorRegions(t *testing.T) {
	d := newWorld(t).get(t, tech, "/office/indicator")
	require.Equal(t, 1, d.Find("table.told").Length())
	require.Equal(t, "HG types of fall 2025, by region", d.text("table.told caption"))
	require.Equal(t, "Plover, Sedge 5 2 in 3; 0 in 2", cellsOf(d.Find("table.told tbody tr")))
	require.Contains(t, d.text("main"), "fewer than 3 who surely farm apart")
}

// 10 or more is named (University of Minnesota Extension's table); ratings part at 10,
// 30 and 60 (Schmitt and Shannon 1992, as Ohio State prints them). 125 females on a
// line against 1,255 on the check, five pots each, are 9.96: shown as 10 they would
// contradict the mark beside them.
func TestIndexIsNotRoundedOverAnEdge(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 6.8: "6.8", 29.2: "29.2", 12500.0 / 1255: "9.96", 9.9996: "9.9996", 10: "10", 10.04: "10",
		30: "30", 30.04: "30.04", 30.26: "30.3", 60.01: "60.01", 59.96: "60", 117: "117"} {
		require.Equal(t, want, indexText(v), "%v", v)
	}
}

func TestIndicatorLines(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, tech, "/office/indicator")
	require.Equal(t, 1, page.Find(".not-public").Length())
	form := with(page.fields("form[action='/office/indicator']"), "code", codes[0].String(), "check", "200 180 220 210 190",
		"line-1", "2 0 1 3 4", "line-2", "40, 36, 44, 42, 38")
	shown := w.post(t, tech, "/office/indicator", with(form, "do", "show")...)
	require.Equal(t, http.StatusOK, shown.status)
	require.Empty(t, w.indicators.tests)
	// 100 × 200 / 1000 = 20 on PI 88788, 1 on Peking (FI by its definition).
	require.Equal(t, "HG type 2 (of 1.2)", shown.text("#type"))
	require.Contains(t, shown.text(".reading tbody tr:nth-child(2)"), "+ 20")
	require.Contains(t, shown.text(".reading tbody tr:nth-child(2)"), "moderately resistant")
	require.Contains(t, shown.text(".reading tbody tr:nth-child(3)"), "?")
	require.Contains(t, shown.text(".reading"), "exactly 10 included")
	require.Contains(t, shown.text(".reading"), "PI 437654")

	saved := w.post(t, tech, "/office/indicator", with(form, "do", "save")...)
	require.Equal(t, http.StatusOK, saved.status)
	require.Contains(t, saved.text(".saved"), "HG type 2 (of 1.2)")
	require.Equal(t, http.StatusConflict, w.post(t, tech, "/office/indicator", with(form, "do", "save")...).status)
	again := w.get(t, tech, saved.attr("#tests ~ .scroll tbody a", "href"))
	require.Equal(t, "200 180 220 210 190", again.attr("#check", "value"))
	require.Equal(t, http.StatusOK, w.post(t, tech, "/office/indicator", with(again.fields("form[action='/office/indicator']"), "line-3", "90 90 90 90 90", "do", "save")...).status)

	for name, bad := range map[string][]string{
		"no check": with(form, "check", ""), "no line": with(form, "line-1", "", "line-2", ""), "no number": with(form, "line-2", "many"),
		"a dead check": with(form, "check", "0 0 0"), "no code": with(form, "code", ""), "no such bag": with(form, "code", codes[7].String()),
		"too many": with(form, "line-1", "90000"),
	} {
		got := w.post(t, tech, "/office/indicator", with(bad, "do", "save")...)
		require.Equal(t, http.StatusUnprocessableEntity, got.status, name)
		require.NotZero(t, got.Find(".problems li").Length(), name)
		require.NotContains(t, got.text(".problems"), "[", name)
	}
	require.Equal(t, http.StatusNotFound, w.get(t, tech, "/office/indicator?code="+codes[7].String()).status)
	require.Equal(t, http.StatusUnprocessableEntity, w.get(t, tech, "/office/indicator?code=x").status)
}
