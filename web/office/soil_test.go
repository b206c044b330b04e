package office

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/tray"
)

// A scanner types a code and presses Enter; the page is ready for the next.
func TestSoilScanByScan(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, account.Technician, "/office/login-bags")
	require.Equal(t, "scan", page.attr("[autofocus]", "name"))
	require.Equal(t, 1, page.Find("#outcome[aria-live=polite]").Length())

	for _, step := range []struct {
		typed   string
		status  int
		says    string
		in      string
		listed  int
		problem bool
	}{
		{strings.ToLower(codes[0].String()), 200, codes[0].String() + " Logged in. Tray 1, cup 1", "1 bag logged in.", 1, false},
		{"https://scn.example.org/send?bag=" + string(codes[2]), 200, codes[2].String() + " Logged in. Tray 1, cup 2", "2 bags logged in.", 2, false},
		{string(codes[0]), 200, "It had come before", "2 bags logged in.", 3, false},
		{string(codes[7]), 422, "No bag in use has this code.", "2 bags logged in.", 4, true},
		{"K0QF", 422, "That is 4 characters; a bag’s code has eight.", "2 bags logged in.", 4, true},
		{"", 422, "Scan or type", "2 bags logged in.", 4, true},
	} {
		form := with(page.fields("form:has(#scan)"), "scan", step.typed)
		page = w.post(t, account.Technician, "/office/login-bags", form...)
		require.Equal(t, step.status, page.status, step.typed)
		require.Contains(t, page.text("#outcome"), step.says)
		require.Contains(t, page.text("main"), step.in)
		require.Equal(t, step.listed, page.Find("tbody tr").Length())
		require.Equal(t, step.problem, page.Find("#scan[aria-invalid=true]").Length() == 1)
		require.Equal(t, "scan", page.attr("[autofocus]", "name"))
		require.Empty(t, page.attr("#scan", "value"), "a scanner writes behind what stands there")
	}
	require.Equal(t, codes[7].String(), page.text("tbody tr:first-child th"), "newest first")
	require.True(t, w.soil.in[codes[0]] && w.soil.in[codes[2]])
}

// A torn bag gets no cup; a bag without a code is noted once a page; a code that
// no bag has is noted for the coordinator.
func TestSoilThatStandsInNoCup(t *testing.T) {
	w := newWorld(t)
	page := w.post(t, account.Technician, "/office/login-bags", "scan", codes[0].String(), "condition", "torn")
	require.Equal(t, http.StatusOK, page.status)
	require.Equal(t, codes[0].String()+" Logged in.", page.text("#outcome"))
	require.Equal(t, "good", page.attr("#condition option[selected]", "value"), "the next bag is good unless it is said")
	page = w.post(t, account.Technician, "/office/login-bags", "scan", codes[1].String(), "condition", "wet", "same", "yes")
	require.Equal(t, "wet", page.attr("#condition option[selected]", "value"), "a day of wet bags is said once")
	require.Equal(t, 1, page.Find("#same[checked]").Length())
	page = w.post(t, account.Technician, "/office/login-bags", "scan", codes[7].String(), "condition", "wet")
	require.Equal(t, "wet", page.attr("#condition option[selected]", "value"))
	require.Equal(t, []desk.Stray{{Code: codes[7], Kind: desk.StrayUnknown}}, w.soil.strays)
	form := with(page.fields("form:has(button[value=unreadable])"), "do", "unreadable")
	for range 2 {
		noted := w.post(t, account.Technician, "/office/login-bags", form...)
		require.Contains(t, noted.text("#outcome"), "A bag without a readable code. Noted.")
		require.Equal(t, 1, noted.Find("tbody tr").Length(), "the batch is kept")
	}
	require.Len(t, w.soil.strays, 2)
	require.Equal(t, http.StatusNotFound, w.post(t, account.Technician, "/office/login-bags", "do", "not_ours", "token", "x").status)
}

func TestSoilManyCodesKeepsWhatCouldNotBeTaken(t *testing.T) {
	w := newWorld(t)
	typed := string(codes[0]) + "\r\n" + codes[1].String() + ", " + string(codes[2]) + ";\n\n" + string(codes[7]) + "\nO0O0-1111\n"
	page := w.post(t, account.Technician, "/office/login-bags", "do", "many", "many", typed)
	require.Equal(t, http.StatusUnprocessableEntity, page.status)
	require.Equal(t, string(codes[7])+"\nO0O0-1111", page.Find("#many").Text())
	require.Contains(t, page.text("#many-wrong"), "2 codes could not be taken")
	require.Equal(t, 1, page.Find("details[open]").Length())
	require.Equal(t, 5, page.Find("#outcome p").Length())
	require.Contains(t, page.text("#outcome"), "Character 1 was read as O. Codes never have 0, O, 1, I or L")
	require.Contains(t, page.text("main"), "2 bags logged in.")

	for name, many := range map[string]string{"nothing": " \n,;", "too many": strings.Repeat("K7QF\n", maxMany+1)} {
		page := w.post(t, account.Technician, "/office/login-bags", "do", "many", "many", many, "batch", "i"+string(codes[0]))
		require.Equal(t, http.StatusUnprocessableEntity, page.status, name)
		require.NotEmpty(t, page.text("#many-wrong"), name)
		require.Equal(t, 1, page.Find("tbody tr").Length(), "the batch is kept")
	}
}

func TestCodeProblemsAreSaidInWords(t *testing.T) {
	w := newWorld(t)
	swapped := []byte(codes[0])
	for i := 0; i+1 < len(swapped); i++ {
		if swapped[i] != swapped[i+1] {
			swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
			break
		}
	}
	for typed, want := range map[string]string{
		"ABC":           "That is 3 characters",
		"A":             "That is 1 character;",
		"AAAA-AAL2":     "Character 7 was read as L",
		"AAAA?AAA":      "Character 5 is ?, which no code has.",
		string(swapped): "two are swapped",
	} {
		_, err := bag.Parse(typed)
		require.Error(t, err)
		require.Contains(t, codeProblem(w.office.Lang, err), want, typed)
	}
}

func TestBatchIsReadBack(t *testing.T) {
	batch := []landed{{Code: codes[3], Outcome: soilIn, Seat: tray.Seat{Tray: 12, Cup: 40}}, {Code: codes[4], Outcome: soilBefore}, {Code: codes[5], Outcome: soilNone}}
	require.Equal(t, batch, readBatch(writeBatch(batch)))
	require.Empty(t, readBatch("zK7QF2M9X i iABC <b> "+string(codes[0])))
	require.Len(t, readBatch(strings.Repeat("i"+string(codes[0])+" ", maxBatch+50)), maxBatch)
}

func FuzzReadBatch(f *testing.F) {
	f.Add("i" + string(codes[0]) + " bXXXX")
	f.Fuzz(func(t *testing.T, s string) {
		got := readBatch(s)
		if len(got) > maxBatch || len(got) > 0 && writeBatch(got) != writeBatch(readBatch(writeBatch(got))) {
			t.Fatalf("%q", s)
		}
	})
}

func FuzzScanned(f *testing.F) {
	f.Add("https://a.example/send?bag=" + string(codes[0]))
	f.Add("://")
	f.Fuzz(func(t *testing.T, s string) {
		if got := scanned(s); len(got) > len(s) || strings.Contains(s, "://") && strings.ContainsAny(got, "/?=#&") {
			t.Fatalf("%q gave %q", s, got)
		}
	})
}
