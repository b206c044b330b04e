package office

import (
	"net/http"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/tray"
)

func TestTraysSayWhatWaitsAndWhatIsNotExplained(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, tech, "/office/trays")
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.text("main"), "30 "+codes[1].String()+" Tray 1, cup 2 Wet: mud, washed all the same. No form has come. Key its slip")
	require.Contains(t, page.text(".ledger"), "Not explained 1")
	require.Contains(t, page.text("main"), "do not agree")
	w.trays.ledger.Total = 180
	require.Contains(t, w.get(t, tech, "/office/trays").text("main"), "Every bag is accounted for.")

	saved := w.post(t, tech, "/office/trays", "day", "11/24/2026", "mail", "37")
	require.Equal(t, http.StatusOK, saved.status)
	require.Equal(t, 37, w.trays.mail[date(2026, 11, 24)])
	for _, bad := range [][2]string{{"11/24/2027", "3"}, {"soon", "3"}, {"11/24/2026", "-1"}, {"11/24/2026", "1.5"}, {"11/24/2026", "2000000"}} {
		got := w.post(t, tech, "/office/trays", "day", bad[0], "mail", bad[1])
		require.Equal(t, http.StatusUnprocessableEntity, got.status, bad)
		require.Equal(t, bad[0], got.attr("#day", "value"))
		require.Equal(t, bad[1], got.attr("#mail", "value"))
		require.Equal(t, 1, got.Find(".problems li").Length())
	}
}

// Recounts are asked for so often in a day and no oftener: what was done today
// comes off.
func TestRecountsOfADay(t *testing.T) {
	w := newWorld(t)
	asked := func() (int, string) {
		page := w.get(t, tech, "/office/trays")
		return page.Find(`a[href^="/office/count?again="]`).Length(), page.text("main")
	}
	n, said := asked()
	require.Equal(t, 1, n)
	require.NotContains(t, said, "done today")
	w.lab.recounted = 11
	n, said = asked()
	require.Equal(t, 1, n, "the twelfth")
	require.Contains(t, said, "At most 12 recounts are asked for in a day")
	require.Contains(t, said, "11 were done today.")
	w.lab.recounted = 12
	n, said = asked()
	require.Zero(t, n)
	require.Contains(t, said, "Today’s recounts are done.")
}

func TestControlsOfATray(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, tech, "/office/trays/1")
	require.Equal(t, 40, page.Find("tbody tr").Length())
	require.Equal(t, 2, page.Find("form:has([name=cup])").Length())
	var blank string
	cups, err := w.trays.Tray(t.Context(), 2026, 1)
	require.NoError(t, err)
	for _, c := range cups {
		if c.Kind == tray.Blank {
			blank = strconv.Itoa(c.No)
		}
	}
	refused := w.post(t, tech, "/office/trays/1", "cup", blank, "eggs-"+blank, "1.5", "cyst-"+blank, "yes")
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Equal(t, "1.5", refused.attr("#eggs-"+blank, "value"))
	require.Equal(t, 1, refused.Find("#cyst-"+blank+"[checked]").Length())
	saved := w.post(t, tech, "/office/trays/1", "cup", blank, "eggs-"+blank, "2")
	require.Equal(t, http.StatusOK, saved.status)
	require.Contains(t, saved.text("tbody"), "100 eggs per 100 cm³")
	require.Contains(t, w.get(t, tech, "/office/trays").text("main"), "100 (eggs in a blank)")
	require.Equal(t, http.StatusNotFound, w.post(t, tech, "/office/trays/1", "cup", "99", "eggs-99", "2").status)
	require.Equal(t, http.StatusNotFound, w.get(t, tech, "/office/trays/2").status)
	require.Equal(t, http.StatusNotFound, w.get(t, tech, "/office/trays/x").status)
}

// Labels have the numbers of every cup, and the codes of those that are taken.
func TestCupLabels(t *testing.T) {
	w := newWorld(t)
	pdf := w.get(t, tech, "/office/trays/1/labels.pdf")
	require.Equal(t, http.StatusOK, pdf.status)
	require.True(t, strings.HasPrefix(pdf.body, "%PDF"))
	cmd := exec.Command("pdftotext", "-layout", "-", "-")
	cmd.Stdin = strings.NewReader(pdf.body)
	text, err := cmd.Output()
	require.NoError(t, err)
	for _, c := range codes[:3] {
		require.Contains(t, string(text), c.String())
	}
	require.Equal(t, 1, strings.Count(string(text), "blank"))
	require.Equal(t, 1, strings.Count(string(text), "check sample"))
	require.Equal(t, 40, strings.Count(string(text), "Tray 1"))
}

func TestKeyASlip(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, tech, "/office/slip?code="+string(codes[1]))
	require.Equal(t, string(codes[1]), page.attr("#code", "value"))
	form := with(page.fields("form[action='/office/slip']"), "county", "1", "township", "11", "day", "10/20/2026", "standing", "first", "crop", "soybean", "do", "store")
	wrong := w.post(t, tech, "/office/slip", with(form, "township", "21", "day", "10/20/2027")...)
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	require.Equal(t, 2, wrong.Find(".problems li").Length())
	require.Equal(t, "10/20/2027", wrong.attr("#day", "value"))
	require.Equal(t, "soybean", wrong.attr("#crop option[selected]", "value"), "what was keyed is kept")

	saved := w.post(t, tech, "/office/slip", form...)
	require.Equal(t, http.StatusOK, saved.status, saved.text("main"))
	require.Len(t, w.slips.visits, 1)
	require.EqualValues(t, 11, w.slips.visits[0].Senders[0].Bags[0].Place)
	require.EqualValues(t, 2, w.slips.visits[0].Senders[0].Standing)
	require.Equal(t, "1", saved.attr("#county option[selected]", "value"), "the next slip is of the same county")
	require.Empty(t, saved.attr("#code", "value"))

	there := w.post(t, tech, "/office/slip", with(form, "code", codes[0].String())...)
	require.Equal(t, http.StatusConflict, there.status)
	require.Contains(t, there.text("[role=alert]"), "is there already")
	none := w.post(t, tech, "/office/slip", with(form, "code", codes[7].String(), "do", "assume")...)
	require.Equal(t, http.StatusUnprocessableEntity, none.status)
	require.Contains(t, none.text("[role=alert]"), "soil was not logged in")
	require.Equal(t, http.StatusUnprocessableEntity, w.post(t, tech, "/office/slip", "code", "x", "do", "assume").status)
	assumed := w.post(t, tech, "/office/slip", "code", codes[1].String(), "do", "assume")
	require.Equal(t, http.StatusOK, assumed.status)
	require.Contains(t, assumed.text(".saved"), "counts for the county of its lot")
	require.Len(t, w.slips.assumed, 1)
}

func TestABagsHistory(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, tech, "/office/bag?code="+codes[0].String())
	require.Equal(t, http.StatusOK, page.status)
	text := page.text("main")
	for _, say := range []string{"Counted, not signed", "from its paper slip", "Hot or dried out", "Tray 3, cup 17", "Looked at more of the same suspension",
		"42 in 2 mL, 90 in 2 mL", "negative binomial", "November 22, 2026", "Not settled yet", "was issued to follow it up"} {
		require.Contains(t, text, say)
	}
	require.Equal(t, 1, page.Find("del").Length(), "what stands no longer is struck out")
	// 42 and 50 eggs: 8 over a mean of 46 is 17 %.
	require.Contains(t, text, "lie 17% apart")
	for _, p := range w.program.places {
		require.NotContains(t, text, p.Label(), "the lab never sees where a bag is from")
	}
	require.Equal(t, http.StatusNotFound, w.get(t, tech, "/office/bag?code="+codes[7].String()).status)
	require.Equal(t, http.StatusUnprocessableEntity, w.get(t, tech, "/office/bag?code=x").status)
	require.Equal(t, http.StatusOK, w.get(t, tech, "/office/bag").status)
}

func TestLotsAreAccountedFor(t *testing.T) {
	w := newWorld(t)
	text := w.get(t, boss, "/office/lots").text("details")
	require.Contains(t, text, "Counted, not signed 122")
	require.Contains(t, text, "Not explained 1")
	require.Contains(t, text, "Bags issued in this lot 300")
}
