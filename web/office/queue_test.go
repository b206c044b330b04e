package office

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
)

func TestSettleCodes(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/queue")
	require.Equal(t, 4, page.Find("tbody tr").Length())
	require.Equal(t, "Settle "+codes[8].String()+" "+codes[8].String()+" No bag with this code was ever issued. October 3, 2026 Plover", page.text("tbody tr:first-child"))
	for i, say := range []string{"never issued", "Two forms claim", "counted already", "set aside"} {
		if i == 0 {
			say = "was ever issued"
		}
		require.Contains(t, page.text("tbody tr:nth-child("+string(rune('1'+i))+")"), say)
	}
	require.Contains(t, page.text(".note"), "Settling sets the form aside for good")

	for range 2 { // pressed twice
		done := w.post(t, boss, "/office/queue", "item", idText(desk.ID{1}), "item", idText(desk.ID{3}))
		require.Equal(t, http.StatusOK, done.status)
		require.Contains(t, done.text(".saved"), "2 codes settled.")
		require.Equal(t, 2, done.Find("tbody tr").Length())
	}
	none := w.post(t, boss, "/office/queue")
	require.Equal(t, http.StatusUnprocessableEntity, none.status)
	require.Contains(t, none.text("[role=alert]"), "Tick the codes")
	require.Equal(t, http.StatusNotFound, w.post(t, boss, "/office/queue", "item", "zz").status)

	w.queue.items = nil
	require.Contains(t, w.get(t, boss, "/office/queue").text("main"), "Nothing to settle.")
}
