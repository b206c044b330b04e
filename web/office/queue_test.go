package office

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
)

func TestSettleCodes(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/queue")
	require.Equal(t, 4, page.Find("#codes tbody tr").Length())
	require.Equal(t, "Settle "+codes[8].String()+" "+codes[8].String()+" No bag with this code was ever issued. October 3, 2026 Plover", page.text("#codes tbody tr:first-child td:nth-child(-n+5), #codes tbody tr:first-child th"))
	for i, say := range []string{"never issued", "Two forms claim", "counted already", "set aside"} {
		if i == 0 {
			say = "was ever issued"
		}
		require.Contains(t, page.text("#codes tbody tr:nth-child("+string(rune('1'+i))+")"), say)
	}
	require.Contains(t, page.text(".note"), "Settling sets the checked form aside for good")

	for range 2 { // pressed twice
		done := w.post(t, boss, "/office/queue", "item", idText(desk.ID{1}), "item", idText(desk.ID{3}))
		require.Equal(t, http.StatusOK, done.status)
		require.Contains(t, done.text(".saved"), "2 codes settled.")
		require.Equal(t, 2, done.Find("#codes tbody tr").Length())
	}
	none := w.post(t, boss, "/office/queue")
	require.Equal(t, http.StatusUnprocessableEntity, none.status)
	require.Contains(t, none.text("[role=alert]"), "Check the codes")
	require.Equal(t, http.StatusNotFound, w.post(t, boss, "/office/queue", "item", "zz").status)

	w.queue.items = nil
	require.Contains(t, w.get(t, boss, "/office/queue").text("main"), "Nothing to settle.")
}

// The later form may be the right one, and a code may have been misread.
func TestSettleCodesTheOtherWay(t *testing.T) {
	w := newWorld(t)
	id := func(n byte) string { return idText(desk.ID{n}) }
	page := w.get(t, boss, "/office/queue")
	require.Equal(t, 2, page.Find("#codes button[value^=prefer]").Length())
	require.Equal(t, 2, page.Find("#codes button[value^=retype]").Length())

	taken := w.post(t, boss, "/office/queue", "do", "prefer "+id(3))
	require.Equal(t, http.StatusConflict, taken.status)
	require.Contains(t, taken.text("[role=alert]"), "on a map, where it stays")
	done := w.post(t, boss, "/office/queue", "do", "prefer "+id(2))
	require.Equal(t, http.StatusOK, done.status)
	require.Contains(t, done.text(".saved"), "The later form holds the bag now.")

	field := "code-" + id(1)
	for typed, says := range map[string]string{"": "Scan or type", "ABC": "That is 3 characters", codes[1].String(): "has its form or its soil already", codes[7].String(): "no bag in use"} {
		got := w.post(t, boss, "/office/queue", "do", "retype "+id(1), field, typed)
		require.GreaterOrEqual(t, got.status, 400, typed)
		require.Contains(t, got.text("[role=alert]"), says)
		require.Equal(t, "#"+field, got.attr("[role=alert] a", "href"))
		require.Equal(t, typed, got.attr("#"+field, "value"), "what was typed is kept")
	}
	done = w.post(t, boss, "/office/queue", "do", "retype "+id(1), field, codes[0].String())
	require.Equal(t, http.StatusOK, done.status)
	require.Equal(t, 2, done.Find("#codes tbody tr").Length())
	for _, do := range []string{"prefer x", "burn " + id(4), "retype " + id(77)} {
		require.GreaterOrEqual(t, w.post(t, boss, "/office/queue", "do", do).status, 400, do)
	}
}

// Soil that is no known bag: which it is, or what became of it.
func TestSettleStraySoil(t *testing.T) {
	w := newWorld(t)
	id := func(n byte) string { return idText(desk.ID{n}) }
	require.Equal(t, 2, w.get(t, boss, "/office/queue").Find("tbody tr:has(button[value^=sent_back])").Length())
	got := w.post(t, boss, "/office/queue", "do", "stray "+id(61), "code-"+id(61), codes[1].String())
	require.Equal(t, http.StatusConflict, got.status)
	got = w.post(t, boss, "/office/queue", "do", "stray "+id(61), "code-"+id(61), codes[0].String())
	require.Equal(t, http.StatusOK, got.status)
	require.Contains(t, got.text(".saved"), "Logged in. Tray 1, cup 9")
	got = w.post(t, boss, "/office/queue", "do", "laid_aside "+id(62))
	require.Equal(t, http.StatusOK, got.status)
	require.Equal(t, desk.LaidAside, w.trays.fates[desk.ID{62}])
	require.Equal(t, http.StatusConflict, w.post(t, boss, "/office/queue", "do", "laid_aside "+id(62)).status)
}

// Ten thousand codes do not make a page that nobody can open.
func TestALongQueueIsShownInParts(t *testing.T) {
	w := newWorld(t)
	first := w.queue.items
	for i := range 10_000 {
		w.queue.items = append(w.queue.items, desk.QueueItem{ID: desk.ID{9, byte(i >> 8), byte(i)}, Code: "ZZZZZZZZ", Reason: "used", Day: date(2026, 11, 1), County: 1})
	}
	page := w.get(t, boss, "/office/queue")
	require.Equal(t, mostQueued, page.Find("#codes tbody tr").Length())
	require.Contains(t, page.text(".note"), "200 of 10,004 are shown.")

	code := first[0].Code.String()
	for _, typed := range []string{code, "http://soil.example/send?bag=" + string(first[0].Code), " " + code[:4] + "-" + code[5:7]} {
		page = w.get(t, boss, "/office/queue?find="+url.QueryEscape(typed))
		require.Equal(t, 1, page.Find("#codes tbody tr").Length(), typed)
		require.Equal(t, code, page.text("#codes tbody th"))
		require.Equal(t, strings.TrimSpace(typed), page.attr("#find", "value"))
		require.Contains(t, page.attr("#codes", "action"), "find=", "settling one comes back here")
	}
	page = w.get(t, boss, "/office/queue?find=%3Cscript%3E")
	require.Contains(t, page.text("main"), "No code that waits has “<script>” in it.")
	require.Zero(t, page.Find("main script").Length())
	require.Equal(t, "/office/queue", page.attr("form a.tap", "href"))
	w.queue.items = first
	require.Zero(t, w.get(t, boss, "/office/queue").Find("#find").Length(), "four need no search")

	// Nor does soil without a bag; the page says that there is more of it.
	for i := range 300 {
		w.trays.strays = append(w.trays.strays, desk.Stray{ID: desk.ID{8, byte(i >> 8), byte(i)}, Code: "ZZZZZZZZ", Kind: desk.StrayUnknown, Day: date(2026, 11, 1)})
	}
	page = w.get(t, boss, "/office/queue")
	require.Equal(t, mostQueued, page.Find("tbody tr:has(button[value^=sent_back])").Length())
	require.Contains(t, page.text(".note"), "200 of 302 are shown.")
	require.Equal(t, 1, page.Find("#find").Length())
}
