package office

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/place"
)

const clerk = account.Clerk

func TestHandOutByScanner(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, clerk, "/office/counter")
	require.Contains(t, page.text("main"), "Bundles of Plover")
	require.Equal(t, 1, page.Find("#scan[autofocus]").Length())
	require.Zero(t, page.Find("#person").Length())

	// The square code on a label holds the form's whole address.
	page = w.post(t, clerk, "/office/counter", "scan", "https://scn.example.org/send?bag="+string(codes[2]))
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.text("#outcome"), "Handed out: 4 bags.")
	for _, c := range codes[:4] {
		require.Contains(t, page.text("#outcome .bundle"), c.String()+" handed out")
	}
	require.Equal(t, "", page.attr("#scan", "value"), "ready for the next one")
	require.Contains(t, page.text("#person ~ p"), "1 bundle, 4 bags.")
	require.Zero(t, page.Find("button[value=same]").Length(), "nothing to tie yet")

	again := w.post(t, clerk, "/office/counter", with(page.fields("main form.narrow"), "scan", codes[0].String())...)
	require.Contains(t, again.text("#outcome"), "had been handed out before")
	require.Equal(t, 1, again.Find("#person ~ ul li").Length(), "the same bundle stands once")

	two := w.post(t, clerk, "/office/counter", with(page.fields("main form.narrow"), "scan", codes[5].String())...)
	require.Contains(t, two.text("#person ~ p"), "2 bundles, 6 bags.")
	require.Equal(t, 1, two.Find("button[value=same]").Length())
	tied := w.post(t, clerk, "/office/counter", "person", two.attr("input[name=person]", "value"), "do", "same")
	require.Contains(t, tied.text(".saved"), "2 bundles are tied as one person’s.")
	require.Equal(t, [][]bag.Code{{codes[5], codes[2]}}, w.counter.tied)
	require.Zero(t, tied.Find("#person").Length(), "the next person begins with nothing")
	for _, asked := range w.counter.asked {
		require.Equal(t, account.Reach{Counties: []place.ID{1}}, asked)
	}

	back := w.post(t, clerk, "/office/counter", "person", two.attr("input[name=person]", "value"), "do", "back", "code", string(codes[2]))
	require.Contains(t, back.text("#outcome"), "Taken back: 4 bags are on the shelf again.")
	require.Contains(t, back.text("#person ~ p"), "1 bundle, 2 bags.")
	next := w.post(t, clerk, "/office/counter", "person", two.attr("input[name=person]", "value"), "do", "next")
	require.Zero(t, next.Find("#person").Length())
	require.Len(t, w.counter.tied, 1)
}

func TestTheCounterRefusesInWords(t *testing.T) {
	w := newWorld(t)
	for name, c := range map[string]struct{ scan, say string }{
		"nothing":         {"", "Scan or type"},
		"too short":       {"K7QF", "4 characters"},
		"look-alike":      {"O0XXAAAA", "read as O"},
		"no bag has it":   {codes[11].String(), "no bag"},
		"another county":  {codes[6].String(), "no bag"},
		"not even a code": {"<script>", "no code has"},
	} {
		t.Run(name, func(t *testing.T) {
			page := w.post(t, clerk, "/office/counter", "scan", c.scan, "person", string(codes[0])+".4")
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			require.Contains(t, page.text("#outcome"), c.say)
			require.Equal(t, "true", page.attr("#scan", "aria-invalid"))
			require.Contains(t, page.text("#person ~ p"), "1 bundle", "what the person has is kept")
		})
	}
	require.Equal(t, bag.Issued, w.counter.bundles[2].Bags[0].State)
	few := w.post(t, clerk, "/office/counter", "do", "same", "person", string(codes[0])+".4")
	require.Equal(t, http.StatusUnprocessableEntity, few.status)
	require.Contains(t, few.text(".problems"), "two bundles")
	foreign := w.post(t, clerk, "/office/counter", "do", "same", "person", string(codes[0])+".4 "+string(codes[6])+".2")
	require.Equal(t, http.StatusUnprocessableEntity, foreign.status)
	w.counter.bundles[0].Bags[1].State = bag.Counted
	late := w.post(t, clerk, "/office/counter", "do", "same", "person", string(codes[0])+".4 "+string(codes[4])+".2")
	require.Contains(t, late.text(".problems"), "counted already")
	require.Empty(t, w.counter.tied)
	require.Len(t, late.Find("#person ~ ul li").Nodes, 2, "and kept")
}

func FuzzReadGiven(f *testing.F) {
	f.Add(string(codes[0]) + ".4 " + string(codes[1]) + ".1")
	f.Add("x. .9 ÿ.1")
	f.Fuzz(func(t *testing.T, s string) {
		got := readGiven(s)
		if len(got) > maxGiven {
			t.Fatal(len(got))
		}
		back := readGiven(writeGiven(got))
		if len(back) != len(got) {
			t.Fatalf("%q gives %v, then %v", s, got, back)
		}
	})
}

func TestPrintAnAnswer(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, clerk, "/office/counter/answer")
	require.Contains(t, page.text(".note"), "Only for a grower who stands at the counter with the stub in hand.")
	require.Contains(t, page.text(".note"), "Only bags that Plover handed out")

	got := w.post(t, clerk, "/office/counter/answer", "code", codes[0].String(), "present", "yes")
	require.Equal(t, http.StatusOK, got.status)
	require.Equal(t, "application/pdf", got.header.Get("Content-Type"))
	require.Equal(t, "no-store", got.header.Get("Cache-Control"))
	require.Equal(t, `inline; filename="answer.pdf"`, got.header.Get("Content-Disposition"), "the code is in no file name")
	require.Equal(t, "%PDF-", got.body[:5])

	asked := w.counter.touched()
	for name, c := range map[string]struct {
		form  []string
		field string
	}{
		"no stub":        {[]string{"code", codes[0].String()}, "present"},
		"no code":        {[]string{"present", "yes"}, "code"},
		"a code mangled": {[]string{"code", "K7QF-2M9", "present", "yes"}, "code"},
	} {
		page := w.post(t, clerk, "/office/counter/answer", c.form...)
		require.Equal(t, http.StatusUnprocessableEntity, page.status, name)
		require.Equal(t, "#"+c.field, page.attr(".problems a", "href"), name)
	}
	require.Equal(t, asked, w.counter.touched(), "nothing was looked up")

	for _, c := range []bag.Code{codes[6], codes[11]} { // another county's, and none
		page := w.post(t, clerk, "/office/counter/answer", "code", c.String(), "present", "yes")
		require.Equal(t, http.StatusUnprocessableEntity, page.status)
		require.Contains(t, page.text(".problems"), "nothing to print")
	}
	require.Equal(t, http.StatusOK, w.post(t, boss, "/office/counter/answer", "code", codes[6].String(), "present", "yes").status)

	w.counter.answer.Result = nil
	require.Contains(t, w.post(t, clerk, "/office/counter/answer", "code", codes[0].String(), "present", "yes").text(".problems"), "not been counted yet")
	w.counter.answer.Received = false
	require.Contains(t, w.post(t, clerk, "/office/counter/answer", "code", codes[0].String(), "present", "yes").text(".problems"), "the soil has not")
	w.counter.answer.Held = true
	require.Contains(t, w.post(t, clerk, "/office/counter/answer", "code", codes[0].String(), "present", "yes").text(".problems"), "settle this code first")
}

func TestWhatASlipSays(t *testing.T) {
	w := newWorld(t)
	scheme, err := w.recipes.Scheme(t.Context())
	require.NoError(t, err)
	l := w.office.Lang
	a := w.counter.answer
	// Handbook section 3: 42 eggs in 2 of 100 mL from 100 cm³ are 2,100 eggs per 100 cm³.
	slip := newSlip(l, codes[0], a, scheme, "Plover")
	require.Equal(t, codes[0].String(), slip.Code)
	require.Equal(t, "Plover County, fall of 2026", slip.Place, "no township")
	require.Equal(t, "Level: moderate", slip.Level)
	require.Equal(t, []string{"2,100 eggs per 100 cm³ of soil.", "Likely between 1,513 and 2,839.", l.Say("answer.next.again.middle")}, slip.Lines)
	a.Result.Eggs, a.Result.Density = 0, 0
	require.Equal(t, []string{"No eggs seen.", l.Say("answer.next.again.none")}, newSlip(l, codes[0], a, scheme, "Plover").Lines)
	a.Result.Cyst = true
	require.Equal(t, []string{"No eggs counted; a cyst was seen.", l.Say("answer.next.confirm")}, newSlip(l, codes[0], a, scheme, "Plover").Lines)

	es := newSlip(catalog.Spanish(), codes[0], a, scheme, "Plover")
	require.Equal(t, "Condado de Plover, otoño de 2026", es.Place)
	require.Equal(t, "Nivel: sin confirmar", es.Level)
}

// Papers for growers come in Spanish too.
func TestPapersInSpanish(t *testing.T) {
	w := newWorld(t)
	for _, lang := range []string{"", "es"} {
		page := w.post(t, clerk, "/office/counter/answer", "code", codes[0].String(), "present", "yes", "lang", lang)
		require.Equal(t, http.StatusOK, page.status)
		want := "en-US"
		if lang == "es" {
			want = "es-US"
		}
		require.Contains(t, page.body, "/Lang ("+want+")")
	}
	words := map[bag.Code]bag.Words{codes[0]: 7}
	sheets := bundleSheets(catalog.Spanish().At("/es"), [][]bag.Code{codes[:2]}, words, "Sedge", 2026, "https://scn.example.org/")
	require.Equal(t, "2 bolsas · Condado de Sedge · otoño de 2026", sheets[0].Head)
	require.Equal(t, "https://scn.example.org/es/send?bag="+string(codes[0]), sheets[0].Bags[0].URL)
	require.Equal(t, bag.Words(7).String(), sheets[0].Bags[0].Words)
	require.Empty(t, sheets[0].Bags[1].Words, "its stub has left the office")
}
