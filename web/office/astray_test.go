package office

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
)

// What is sent from a page as it was before may be about something that the page
// does not have any more. It is told so in a sentence, which leads nowhere: world.do
// has every page looked over for links to what is not there.
func TestProblemsOfWhatIsGoneLeadNowhere(t *testing.T) {
	id := func(n byte) string { return idText(desk.ID{n}) }
	for _, c := range []struct {
		name, path string
		ready      func(*world)
		form       []string
		status     int
		says       string
		links      string // where the summary leads; "" nowhere
	}{
		{"no box to tick: too soon", "/office/release", func(w *world) { w.releases.preview.NextDay = date(2027, 1, 10) },
			[]string{"cutoff", "2026-11-30", "number", "12"}, 422, "Nothing was released. The page says why", ""},
		{"no box to tick: the audit", "/office/release", func(w *world) { w.releases.preview.Audit = []string{"two senders"} },
			[]string{"cutoff", "2026-11-30", "number", "12"}, 422, "Nothing was released. The page says why", ""},
		{"a box to tick", "/office/release", nil, []string{"cutoff", "2026-11-30", "number", "12"}, 422, "Check the box", "#confirm"},
		{"no county", "/office/recall", nil, []string{"do", "recall", "group", "11/4"}, 422, "no such group stands on this page now", ""},
		{"a county without groups", "/office/recall", nil, []string{"do", "recall", "county", "2", "group", "11/9", "reason", "counting", "confirm", "yes"}, 409,
			"no such group stands on this page now", ""},
		{"a group that is gone", "/office/recall", nil, []string{"do", "recall", "county", "1", "group", "11/9", "reason", "counting", "confirm", "yes"}, 409,
			"does not stand any more", "#group"},
		{"no erratum", "/office/recall", nil, []string{"do", "erratum", "number", "12"}, 422, "No erratum was released", ""},
		{"a line without a code to type", "/office/queue", nil, []string{"do", "prefer " + id(3)}, 409, "where it stays", "#item-" + id(3)},
		{"a line settled meanwhile", "/office/queue", nil, []string{"do", "prefer " + id(99)}, 409, "settled meanwhile", ""},
		{"a code for a line settled meanwhile", "/office/queue", nil, []string{"do", "retype " + id(99), "code-" + id(99), codes[0].String()}, 409, "settled meanwhile", ""},
		{"soil settled meanwhile", "/office/queue", nil, []string{"do", "sent_back " + id(99)}, 409, "settled meanwhile", ""},
		{"nothing ticked of nothing", "/office/queue", func(w *world) { w.queue.items = nil }, nil, 422, "Check the codes", ""},
		{"nothing ticked of none to sign", "/office/sign-off", func(w *world) { w.signoff.list = nil }, nil, 422, "Check the counts", ""},
		{"no edition to withdraw", "/office/editions", func(w *world) { w.ledger.none = true }, []string{"do", "withdraw", "number", "11", "reason", "whim"}, 422, "Choose what was wrong", ""},
		{"no edition to sum up", "/office/annual", func(w *world) { w.yearbook.none = true }, []string{"copy", "whim"}, 422, "Choose whose copy", ""},
		{"a second step that is off", "/office/me", nil, []string{"do", "off", "off", "wrong"}, 422, "not your password", ""},
		{"an address without mail", "/office/me", nil, []string{"do", "address", "address", "x", "sure", "wrong"}, 422, "not your password", ""},
		{"an address of a closed account", personPath([16]byte{8}), func(w *world) { w.office.Mail = &fakeMail{} }, []string{"do", "address", "address", "x"}, 422, "address", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			if c.ready != nil {
				c.ready(w)
			}
			got := w.post(t, boss, c.path, c.form...)
			require.Equal(t, c.status, got.status)
			require.Contains(t, got.text(".problems"), c.says)
			require.Equal(t, c.links, got.attr(".problems a", "href"))
		})
	}
	w := newWorld(t)
	require.Equal(t, http.StatusOK, w.get(t, boss, "/office/money?year=2019&more=many").status)
}
