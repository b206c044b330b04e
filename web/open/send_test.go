package open

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/fault"
	"sixmile/internal/sample"
)

// firstForm is the form for Plover county with one good block.
func firstForm(t *testing.T, d GrowerDeps) url.Values {
	t.Helper()
	res, doc := get(t, d, "/send?county=plover&bag="+testCodes(t, 1)[0].String())
	require.Equal(t, http.StatusOK, res.StatusCode)
	f := filled(doc)
	require.Equal(t, testCodes(t, 1)[0].String(), f.Get("bag.0.code"), "the code of the bag comes along")
	require.Equal(t, "2", f.Get("bag.0.county"))
	f.Set("bag.0.township", "201")
	f.Set("bag.0.day", "2026-10-31")
	f.Set("bag.0.harvest", "after")
	f.Set("bag.0.crop", "soybean")
	f.Set("standing.0", "first")
	return f
}

func do(f url.Values, what string) url.Values {
	f.Set("do", what)
	return f
}

func TestChoosingACountyCarriesTheCode(t *testing.T) {
	res, doc := get(t, growerDeps(newOffice()), "/send?bag=ABCD-2345")
	require.Equal(t, http.StatusOK, res.StatusCode)
	links := doc.Find("ul.counties a")
	require.Equal(t, 10, links.Length())
	require.Equal(t, "Bittern", links.First().Text(), "by name")
	require.Equal(t, "/send?bag=ABCD-2345&county=bittern", links.First().AttrOr("href", ""))

	res, doc = get(t, growerDeps(newOffice()), "/send?county=atlantis")
	require.Equal(t, http.StatusNotFound, res.StatusCode)
	require.Equal(t, 10, doc.Find("ul.counties a").Length(), "an unknown county leads to the list")
}

func TestOneCountyNeedsNoChoice(t *testing.T) {
	f := newOffice()
	f.places = f.places[:13]
	_, doc := get(t, growerDeps(f), "/send")
	require.Equal(t, 1, doc.Find("form.visit").Length())
}

func TestFormIsFresh(t *testing.T) {
	d := growerDeps(newOffice())
	res, doc := get(t, d, "/send?county=plover")
	require.Equal(t, "private, no-cache", res.Header.Get("Cache-Control"), "kept for going back, never given out twice")
	_, again := get(t, d, "/send?county=plover")
	require.NotEqual(t, filled(doc).Get("token"), filled(again).Get("token"))
	require.Empty(t, res.Header.Get("Set-Cookie"))
	require.Equal(t, 14, doc.Find(`select[name="bag.0.township"] option`).Length(), "twelve townships, none yet, county only")
	require.Equal(t, "T8N R11E", doc.Find(`select[name="bag.0.township"] option`).Eq(1).Text())
	require.Equal(t, "T9N R11E", doc.Find(`select[name="bag.0.township"] option`).Eq(4).Text(), "9 before 10")
	require.Equal(t, "2026-11-14", doc.Find(`input[name="bag.0.day"]`).AttrOr("max", ""))
	require.Zero(t, doc.Find("textarea, input[type=tel], input[type=email]").Length(), "no free text, no person")
}

// The form asks for what sample.FormBag holds, for a place to look up, and for
// nothing else.
func TestFormAsksForNothingElse(t *testing.T) {
	d, _ := namedDeps()
	_, doc := get(t, d, "/send?county=plover")
	allowed := map[string]bool{"token": true, "do": true, "standing.0": true, "bag.0.grower": true}
	for _, name := range fieldOrder {
		allowed[sample.Field(0, name)] = true
	}
	seen := map[string]bool{}
	doc.Find("form.visit [name]").Each(func(_ int, s *goquery.Selection) {
		name := s.AttrOr("name", "")
		require.True(t, allowed[name], "the form asks for %q", name)
		seen[name] = true
	})
	require.Len(t, seen, len(allowed))
}

func TestAnotherBagAndNextGrower(t *testing.T) {
	d := growerDeps(newOffice())
	res, doc := post(t, d, do(firstForm(t, d), "bag"))
	require.Equal(t, http.StatusOK, res.StatusCode)
	f := filled(doc)
	require.Empty(t, f.Get("bag.1.code"), "only the code is new")
	for _, name := range []string{"county", "township", "day", "harvest", "crop", "resistance"} {
		require.Equal(t, f.Get("bag.0."+name), f.Get("bag.1."+name), name)
	}
	require.Contains(t, doc.Find(".bag-sheet").Eq(1).Text(), "Same as the last bag")
	require.Equal(t, "/send#bag.2.code", doc.Find(`button[value="bag"]`).AttrOr("formaction", ""), "lands on the new block")

	_, doc = post(t, d, do(f, "grower"))
	f = filled(doc)
	require.Equal(t, 3, doc.Find(".bag-sheet").Length())
	require.Equal(t, 2, doc.Find("fieldset input[value=first]").Length(), "one question a grower")
	require.Equal(t, "1", f.Get("bag.2.grower"))
	require.Equal(t, "2026-10-31", f.Get("bag.2.day"))
	require.Empty(t, f.Get("bag.2.crop"))
	require.Equal(t, "first", f.Get("standing.0"))

	_, doc = post(t, d, do(f, "remove.1"))
	f = filled(doc)
	require.Equal(t, 2, doc.Find(".bag-sheet").Length())
	require.Equal(t, testCodes(t, 1)[0].String(), f.Get("bag.0.code"))
	require.Equal(t, "1", f.Get("bag.1.grower"))
}

func TestShowTownshipsOfAnotherCounty(t *testing.T) {
	d := growerDeps(newOffice())
	f := firstForm(t, d)
	f.Set("bag.0.county", "3")
	_, doc := post(t, d, do(f, "townships"))
	require.Equal(t, "300", doc.Find(`select[name="bag.0.township"] option`).Eq(1).AttrOr("value", ""))
	require.Equal(t, "2026-10-31", filled(doc).Get("bag.0.day"))

	res, list := get(t, d, "/send/townships?county=3")
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, 14, list.Find("option").Length())
	for _, bad := range []string{"", "300", "999", "x"} {
		res, _ := get(t, d, "/send/townships?county="+bad)
		require.Equal(t, http.StatusNotFound, res.StatusCode, bad)
	}
}

func TestSendStoresOnceAndShowsTheReceipt(t *testing.T) {
	office := newOffice()
	d := growerDeps(office)
	d.BaseURL = "https://soil.example.org"
	f := firstForm(t, d)
	res, doc := post(t, d, do(f, "send"))
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
	require.Len(t, office.taken, 1)
	got := office.taken[0]
	require.Equal(t, sample.FirstEver, got.Senders[0].Standing)
	require.Equal(t, testCodes(t, 1)[0], got.Senders[0].Bags[0].Code)

	path := "/answer/" + got.Token.Secret(testCodes(t, 1)[0]).String()
	require.Equal(t, path, doc.Find(".receipt a").AttrOr("href", ""))
	require.Equal(t, "https://soil.example.org"+path, doc.Find(".receipt .address").Text())
	require.Equal(t, 1, doc.Find(".receipt svg.qr path[stroke]").Length())
	require.Contains(t, doc.Find(".receipt dl").Text(), "T8N R12E, Plover County")
	require.Contains(t, doc.Find(".receipt dl").Text(), "October 31, 2026")
	require.Equal(t, "noindex, nofollow", doc.Find(`meta[name=robots]`).AttrOr("content", ""))

	_, again := post(t, d, do(f, "send"))
	require.Equal(t, path, again.Find(".receipt a").AttrOr("href", ""), "sent twice: the same link")
	require.Equal(t, got, office.taken[1], "and the same visit, which the store takes once")
}

// What the sender may note of the field stays out of every form.
func TestNoteIsNeverSent(t *testing.T) {
	d := growerDeps(newOffice())
	_, doc := post(t, d, do(firstForm(t, d), "send"))
	note := doc.Find("[data-note] input")
	require.Equal(t, 1, note.Length())
	_, named := note.Attr("name")
	require.False(t, named)
	require.Zero(t, note.Closest("form").Length())
	_, owned := note.Attr("form")
	require.False(t, owned)
	key := doc.Find("[data-note]").AttrOr("data-note", "")
	require.Len(t, key, 16)
	require.NotContains(t, doc.Find(".receipt a").AttrOr("href", ""), key, "a note's name opens no answer")
}

func TestReceiptLeadsBackToTheForm(t *testing.T) {
	d := growerDeps(newOffice())
	sent := firstForm(t, d)
	_, doc := post(t, d, do(sent, "send"))
	back := url.Values{}
	doc.Find("main form input").Each(func(_ int, s *goquery.Selection) { back.Set(s.AttrOr("name", ""), s.AttrOr("value", "")) })
	res, doc := post(t, d, do(back, "edit"))
	require.Equal(t, http.StatusOK, res.StatusCode)
	sent.Del("do")
	require.Equal(t, sent, filled(doc), "the same form, token included")
}

func TestRefusedFormKeepsWhatWasTyped(t *testing.T) {
	office := newOffice()
	d := growerDeps(office)
	f := firstForm(t, d)
	f.Set("bag.0.code", "k7qf-2m0x")
	f.Set("bag.0.day", "Halloween")
	f.Set("bag.0.township", "301")
	f.Set("bag.0.tillage", "no_till")
	res, doc := post(t, d, do(f, "send"))
	require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
	require.Empty(t, office.taken)
	links := doc.Find(".problems[role=alert] li a")
	require.Equal(t, []string{"#bag.0.code", "#bag.0.township", "#bag.0.day"},
		links.Map(func(_ int, s *goquery.Selection) string { return s.AttrOr("href", "") }), "in the page's order")
	code := doc.Find(`input[name="bag.0.code"]`)
	require.Equal(t, "k7qf-2m0x", code.AttrOr("value", ""))
	require.Equal(t, "true", code.AttrOr("aria-invalid", ""))
	require.Contains(t, code.AttrOr("aria-describedby", ""), "bag.0.code.wrong")
	require.Contains(t, doc.Find(`[id="bag.0.code.wrong"]`).Text(), "Character 7")
	day := doc.Find(`input[name="bag.0.day"]`)
	require.Equal(t, "Halloween", day.AttrOr("value", ""))
	require.Equal(t, "text", day.AttrOr("type", ""), "a date input would drop it")
	_, open := doc.Find(".bag-sheet > details").Attr("open")
	require.True(t, open, "folded answers are in sight")
	require.Equal(t, f.Get("token"), filled(doc).Get("token"))
}

func TestAnUnknownCodeGetsTheSameReceipt(t *testing.T) {
	// The store tells nothing, so the page cannot: two codes, two receipts alike.
	d := growerDeps(newOffice())
	page := func(code string) string {
		f := firstForm(t, d)
		f.Set("token", "AAAAAAAAAAAAAAAAAAAAAA")
		f.Set("bag.0.code", code)
		_, doc := post(t, d, do(f, "send"))
		doc.Find(".qr path, .address, .receipt a, [data-note], .receipt .code, form").Remove()
		doc.Find(".qr").RemoveAttr("aria-label")
		out, err := doc.Find("main").Html()
		require.NoError(t, err)
		return out
	}
	codes := testCodes(t, 2)
	require.Equal(t, page(string(codes[0])), page(string(codes[1])))
}

func TestBrokenTokenLosesNothing(t *testing.T) {
	d := growerDeps(newOffice())
	f := firstForm(t, d)
	f.Set("token", "torn")
	res, doc := post(t, d, do(f, "send"))
	require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
	again := filled(doc)
	require.NotEqual(t, "torn", again.Get("token"))
	res, _ = post(t, d, do(again, "send"))
	require.Equal(t, http.StatusOK, res.StatusCode)
}

func TestEmptyPost(t *testing.T) {
	res, doc := post(t, growerDeps(newOffice()), url.Values{"do": {"send"}})
	require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
	require.Equal(t, 1, doc.Find(".bag-sheet").Length())
}

func TestDatabaseAwayForAMinute(t *testing.T) {
	office := newOffice()
	d := growerDeps(office)
	away := errors.New("connection refused")
	d.Unavailable = func(err error) bool { return errors.Is(err, away) }
	known := &knownGround{store: office, now: time.Now, unavailable: d.Unavailable}
	_, err := known.get(context.Background())
	require.NoError(t, err)
	office.ground = away
	known.read = known.read.Add(-time.Hour)
	g, err := known.get(context.Background())
	require.NoError(t, err, "the form is shown from memory")
	require.Len(t, g.counties, 10)

	office.ground = errors.New("broken")
	_, err = known.get(context.Background())
	require.Error(t, err, "another failure is not hidden")

	office.ground, office.err = nil, away
	f := firstForm(t, d)
	res, doc := post(t, d, do(f, "send"))
	require.Equal(t, http.StatusServiceUnavailable, res.StatusCode)
	require.Equal(t, "30", res.Header.Get("Retry-After"))
	require.Contains(t, doc.Find(".problems").Text(), "nothing was stored")
	again := filled(doc)
	f.Del("do")
	require.Equal(t, f, again)

	office.err = fault.ErrUnavailable
	res, _ = post(t, d, do(f, "send"))
	require.Equal(t, http.StatusServiceUnavailable, res.StatusCode)
	office.err = errors.New("a bug")
	res, _ = post(t, d, do(f, "send"))
	require.Equal(t, http.StatusInternalServerError, res.StatusCode)
}

// Whatever is typed into any field comes back as text, never as markup.
func TestMarkupIsText(t *testing.T) {
	const nasty = `"><script>alert(1)</script>`
	d := growerDeps(newOffice())
	names := []string{"token", "standing.0", "bag.0.grower"}
	for _, name := range fieldOrder {
		names = append(names, sample.Field(0, name))
	}
	for _, name := range names {
		for _, button := range []string{"send", "bag", "grower", "townships", "edit"} {
			f := firstForm(t, d)
			f.Set(name, nasty)
			_, doc := post(t, d, do(f, button))
			require.Zero(t, doc.Find("body script, main script").Length(), "%s, %s", name, button)
		}
	}
	for _, path := range []string{"/send?bag=" + url.QueryEscape(nasty), "/send?county=plover&bag=" + url.QueryEscape(nasty)} {
		_, doc := get(t, d, path)
		require.Zero(t, doc.Find("main script").Length())
		require.Contains(t, strings.Join(doc.Find("main input, main .note").Map(func(_ int, s *goquery.Selection) string {
			return s.AttrOr("value", s.Text())
		}), " "), "alert(1)")
	}
}

func TestFullForm(t *testing.T) {
	d := growerDeps(newOffice())
	f := sample.Form{Token: "AAAAAAAAAAAAAAAAAAAAAA", Standings: []string{""}, Bags: []sample.FormBag{{County: "2"}}}
	for range sample.MaxBags {
		f = f.WithBag()
	}
	in := url.Values{}
	for _, h := range hidden(f) {
		in.Set(h[0], h[1])
	}
	require.Equal(t, f, formOf(in))
	_, doc := post(t, d, do(in, "edit"))
	require.Equal(t, sample.MaxBags, doc.Find(".bag-sheet").Length())
	require.Zero(t, doc.Find(`button[value="bag"]`).Length())
	in.Set(sample.Field(sample.MaxBags, "grower"), "0")
	res, doc := post(t, d, do(in, "send"))
	require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode)
	require.Contains(t, doc.Find(".problems").Text(), "60 bags at most")
}

func TestNatural(t *testing.T) {
	for _, pair := range [][2]string{{"T9N R1W", "T10N R1W"}, {"T9N R2W", "T9N R10W"}, {"Ash", "Birch"}, {"T9", "T9N"}, {"", "A"}} {
		require.Negative(t, natural(pair[0], pair[1]), pair)
		require.Positive(t, natural(pair[1], pair[0]), pair)
	}
	require.Zero(t, natural("T09N", "T9N"))
}

// A body that is no form is answered like an empty one, not as a failure of ours.
func TestUnreadableForms(t *testing.T) {
	for _, body := range []string{"a=1;b=2", "%zz=%&&&=;", "bag.0.code=%E0%A4%A", strings.Repeat("&", 400)} {
		r := httptest.NewRequest(http.MethodPost, "/send", strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		res, _ := serve(t, growerDeps(newOffice()), r)
		require.Equal(t, http.StatusUnprocessableEntity, res.StatusCode, "%q", body)
	}
}

// No link of the form takes it away: a browser that comes back to a page that was
// sent asks to send it again, and what was typed since is gone.
func TestLinksLeaveTheFormAlone(t *testing.T) {
	d, _ := namedDeps()
	f := firstForm(t, d)
	_, doc := post(t, d, do(f, "bag"))
	require.Equal(t, 2, doc.Find("form.visit .bag-sheet").Length())
	links := doc.Find("form.visit a[href]")
	require.Positive(t, links.Length())
	links.Each(func(_ int, a *goquery.Selection) {
		require.Equal(t, "_blank", a.AttrOr("target", ""), a.Text())
		require.Equal(t, "noopener", a.AttrOr("rel", ""))
		require.Contains(t, a.Text(), d.Lang.Say("send.beside"))
	})
	require.Contains(t, doc.Find("form.visit details.word-here").Text(), d.Lang.Say("word.sender.text"))
}
