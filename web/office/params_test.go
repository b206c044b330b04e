package office

import (
	"context"
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
)

// fakeOutlooks stands for the store of parameter sets, newest first.
type fakeOutlooks struct {
	calls
	sets []lookahead.Set
}

func newFakeOutlooks() *fakeOutlooks {
	return &fakeOutlooks{sets: []lookahead.Set{lookahead.Standard()}}
}

func (f *fakeOutlooks) List(context.Context) ([]lookahead.Set, error) {
	f.hit()
	return f.sets, nil
}

func (f *fakeOutlooks) Add(_ context.Context, s lookahead.Set, from string, _ time.Time) (lookahead.Set, error) {
	f.hit()
	if f.sets[0].Label() != from {
		return s, fault.ErrConflict
	}
	s.Version = len(f.sets) + 1
	f.sets = append([]lookahead.Set{s}, f.sets...)
	return s, s.Check()
}

// formOf makes a form of names and values in turn.
func formOf(pairs []string) url.Values {
	form := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

func TestParamsShowsTheSetInForce(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, account.Coordinator, "/office/look-ahead")
	require.Equal(t, http.StatusOK, page.status)
	require.Equal(t, "0.59", page.attr(`[id="nonhost.mean"]`, "value"))
	require.Equal(t, "3.3", page.attr(`[id="susceptible.mean"]`, "value"))
	require.Equal(t, len(lookahead.Rules), page.Find("fieldset.params-figure").Length())
	require.Contains(t, page.text(`textarea[id="nonhost.source"]`), "Chen")
	require.Contains(t, page.Find("main").Text(), "Of 11 counts, 8 lie inside")
	require.Equal(t, "/look-ahead?eggs=2000&set="+lookahead.Standard().Label(), page.attr("table a", "href"))
}

func TestParamsPutsAChangeInForce(t *testing.T) {
	w := newWorld(t)
	form := formOf(w.get(t, account.Coordinator, "/office/look-ahead").fields("main form[method=post]"))
	form.Set("winter.mean", "0.85")
	form.Set("winter.source", "Our own\r\n trial") // a field of several lines; kept as one
	form.Set("note", "Winters here are harder.")
	page := w.do(t, account.Coordinator, http.MethodPost, "/office/look-ahead", form)
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.Find(".saved").Text(), "version 2")
	require.Len(t, w.outlooks.sets, 2)
	want := lookahead.Standard()
	want.Version, want.Note = 2, "Winters here are harder."
	want.Figures[lookahead.Winter] = lookahead.Figure{Low: 0.7, Mean: 0.85, High: 1, Source: "Our own trial"}
	require.Equal(t, want, w.outlooks.sets[0], "every other figure came through the form as it was")

	// The same form again was made from a set that is no longer in force.
	page = w.do(t, account.Coordinator, http.MethodPost, "/office/look-ahead", form)
	require.Equal(t, http.StatusConflict, page.status)
	require.Contains(t, page.Find(".problems").Text(), "while you were typing")
	require.Len(t, w.outlooks.sets, 2)
	require.Equal(t, "0.85", page.attr(`[id="winter.mean"]`, "value"), "what was typed is kept")
	page = w.do(t, account.Coordinator, http.MethodPost, "/office/look-ahead", formOf(page.fields("main form[method=post]")))
	require.Equal(t, http.StatusConflict, page.status, "and pressing again does not get around it")
}

func TestParamsRefuses(t *testing.T) {
	for name, tt := range map[string]struct{ field, value, at, says string }{
		"no number":  {"winter.mean", "cold", "winter.mean", "type a number"},
		"range":      {"nonhost.high", "1.5", "nonhost.mean", "outside the limits"},
		"order":      {"nonhost.low", "0.9", "nonhost.mean", "Low must not"},
		"no source":  {"bag.source", "", "bag.source", "where it comes from"},
		"bad name":   {"name", "Our set", "name", "lowercase letters"},
		"a new host": {"peking.high", "9", "peking.mean", "too close"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			form := formOf(w.get(t, account.Coordinator, "/office/look-ahead").fields("main form[method=post]"))
			form.Set(tt.field, tt.value)
			page := w.do(t, account.Coordinator, http.MethodPost, "/office/look-ahead", form)
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			require.Contains(t, page.Find(`[id="`+tt.at+`-wrong"]`).Text(), tt.says)
			require.Equal(t, 1, page.Find(`.problems a[href="#`+tt.at+`"]`).Length())
			require.Equal(t, tt.value, page.attr(`[id="`+tt.field+`"]`, "value"), "what was typed is kept")
			require.Len(t, w.outlooks.sets, 1)
		})
	}
}
