package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"sixmile/internal/demo"
)

// walk is the program as its users meet it: the built binary, serving a demo,
// and a browser.
type walk struct {
	t     *testing.T
	base  string
	staff *http.Client
}

// TestABagBecomesAPartOfTheMap walks the whole job in a browser against the
// real program: three growers send bags from a township that has no figures,
// one of them on a phone-sized screen; a technician logs the soil in and keys
// the counts and a correction by keyboard; the coordinator signs them, by keyboard too, and
// releases; the map and its table show
// the township; and the first grower's link shows the level.
func TestABagBecomesAPartOfTheMap(t *testing.T) {
	w := startWalk(t)
	blank := w.blankTownship()
	codes := w.issue(blank.county, 4)
	require.Equal(t, "no-figures", w.mark(blank))

	links := w.sendOnAPhone(blank, codes[0], codes[1])
	w.sendByHand(blank, codes[2])
	w.sendByHand(blank, codes[3])

	lab := w.browse(1440, 900)
	w.signIn(lab, "lab")
	w.logIn(lab, codes)
	for i, eggs := range []string{"24", "0", "260", "8"} {
		w.key(lab, codes[i], eggs)
	}
	w.correct(lab, codes[0], "24", "42")

	coordinator := w.browse(1440, 900)
	w.signIn(coordinator, "coordinator")
	// Nothing is given or shown before it is signed.
	require.NotContains(t, w.text(coordinator, links[0], "main"), "2,100")
	w.signOff(coordinator, codes)
	w.release(coordinator, blank)

	// 260 eggs are 13,000 eggs per 100 cm³: the third found class of the default scheme.
	require.Equal(t, "found-3", w.mark(blank))
	row := w.row(blank)
	require.Contains(t, row, "high")
	require.Contains(t, row, "4")

	phone := w.browse(390, 844)
	answer := w.text(phone, links[0], "main")
	require.Contains(t, answer, "2,100") // handbook section 3: 42 eggs in 2 of 100 mL from 100 cm³
	require.Contains(t, answer, "moderate")
	require.NotContains(t, answer, blank.name, "the answer names no township")
}

func startWalk(t *testing.T) *walk {
	t.Helper()
	bin := filepath.Join(t.TempDir(), "sixmile")
	build := exec.Command("go", "build", "-o", bin, ".")
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))
	var said, errs lockedBuffer
	cmd := exec.Command(bin, "demo", "--data", folder(t), "--listen", "127.0.0.1:0")
	cmd.Stdout, cmd.Stderr = &said, &errs
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
		require.NoError(t, cmd.Wait(), errs.String())
	})
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	w := &walk{t: t, base: said.address(t), staff: &http.Client{Jar: jar}}
	res, err := w.staff.PostForm(w.base+"/office/sign-in", url.Values{"login": {"coordinator"}, "password": {demo.Password}})
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Equal(t, http.StatusOK, res.StatusCode)
	return w
}

// township is one row of a county's page.
type township struct {
	county, countySlug string
	id                 string // of its area on the map
	code, name         string
}

func (w *walk) get(client *http.Client, path string) []byte {
	w.t.Helper()
	res, err := client.Get(w.base + path)
	require.NoError(w.t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(w.t, err)
	require.Equal(w.t, http.StatusOK, res.StatusCode, path)
	return b
}

func (w *walk) page(path string) *goquery.Document {
	w.t.Helper()
	doc, err := goquery.NewDocumentFromReader(bytes.NewReader(w.get(http.DefaultClient, path)))
	require.NoError(w.t, err)
	return doc
}

// blankTownship finds a township that the map shows nothing of, and from which
// nothing waits either: eggs there are a first find.
func (w *walk) blankTownship() township {
	w.t.Helper()
	var found township
	waits := string(w.get(w.staff, "/office/release"))
	w.page("/send").Find(".counties a").EachWithBreak(func(_ int, a *goquery.Selection) bool {
		href, _ := a.Attr("href")
		u, err := url.Parse(href)
		require.NoError(w.t, err)
		slug := u.Query().Get("county")
		send := w.page("/send?county=" + slug)
		w.page("/county/" + slug).Find(`[data-place][data-mark="no-figures"]`).EachWithBreak(func(_ int, area *goquery.Selection) bool {
			id, _ := area.Attr("data-place")
			option := send.Find(`option[value="` + id + `"]`).First().Text()
			code := regexp.MustCompile(`T\d+N R\d+E`).FindString(option)
			name := strings.Trim(strings.Replace(option, code, "", 1), " ,()–·")
			if !strings.Contains(waits, name+" ("+code+")") {
				found = township{county: strings.TrimSpace(a.Text()), countySlug: slug, id: id, code: code, name: name}
			}
			return found.id == ""
		})
		return found.id == ""
	})
	require.NotEmpty(w.t, found.id, "every township of the demo has figures")
	return found
}

// mark is what the county's map shows of the township.
func (w *walk) mark(at township) string {
	w.t.Helper()
	mark, ok := w.page("/county/" + at.countySlug).Find(`[data-place="` + at.id + `"]`).First().Attr("data-mark")
	require.True(w.t, ok)
	return mark
}

// row is the township's row of the county's table.
func (w *walk) row(at township) string {
	w.t.Helper()
	row := w.page("/county/" + at.countySlug).Find("tr").FilterFunction(func(_ int, s *goquery.Selection) bool {
		return strings.Contains(s.Text(), at.code) && strings.Contains(s.Text(), at.name)
	}).First()
	require.Equal(w.t, 1, row.Length())
	return strings.Join(strings.Fields(row.Text()), " ")
}

var bagCode = regexp.MustCompile(`\b[2-9A-HJKMNP-Z]{4}-[2-9A-HJKMNP-Z]{4}\b`)

// issue has the coordinator issue single bags, and reads their codes off the
// printed sheets.
func (w *walk) issue(county string, n int) []string {
	w.t.Helper()
	doc, err := goquery.NewDocumentFromReader(bytes.NewReader(w.get(w.staff, "/office/lots")))
	require.NoError(w.t, err)
	form := doc.Find(`form[method=post]`).FilterFunction(func(_ int, s *goquery.Selection) bool {
		return s.Find(`button[value=issue]`).Length() == 1
	})
	require.Equal(w.t, 1, form.Length())
	values := url.Values{"do": {"issue"}}
	form.Find("input, select").Each(func(_ int, s *goquery.Selection) {
		name, _ := s.Attr("name")
		value, _ := s.Attr("value")
		if goquery.NodeName(s) == "select" {
			value, _ = s.Find("option[selected]").Attr("value")
		}
		values.Set(name, value)
	})
	option := form.Find("select[name=county] option").FilterFunction(func(_ int, s *goquery.Selection) bool {
		return strings.HasPrefix(strings.TrimSpace(s.Text()), county)
	})
	value, ok := option.Attr("value")
	require.True(w.t, ok, "no county %q among those to issue to", county)
	values.Set("county", value)
	values.Set("bags", fmt.Sprint(n))
	values.Set("sizes", "1")
	action, ok := form.Attr("action")
	require.True(w.t, ok)
	res, err := w.staff.PostForm(w.base+action, values)
	require.NoError(w.t, err)
	defer res.Body.Close()
	after, err := goquery.NewDocumentFromReader(res.Body)
	require.NoError(w.t, err)
	require.Equal(w.t, http.StatusOK, res.StatusCode, after.Find(".problems").Text())
	sheets, ok := after.Find(`a[href$="sheets.pdf"]`).First().Attr("href")
	require.True(w.t, ok, after.Find("main").Text())
	file := filepath.Join(w.t.TempDir(), "sheets.pdf")
	require.NoError(w.t, os.WriteFile(file, w.get(w.staff, sheets), 0o600))
	text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	require.NoError(w.t, err)
	var codes []string
	seen := map[string]bool{}
	for _, c := range bagCode.FindAllString(string(text), -1) {
		if !seen[c] {
			seen[c] = true
			codes = append(codes, c)
		}
	}
	require.Len(w.t, codes, n)
	return codes
}

// sendByHand sends one bag of a new farm without a browser, as a script-less
// form would.
func (w *walk) sendByHand(at township, code string) {
	w.t.Helper()
	token, ok := w.page("/send?county=" + at.countySlug).Find(`input[name=token]`).Attr("value")
	require.True(w.t, ok)
	doc := w.page("/send?county=" + at.countySlug)
	county, ok := doc.Find(`select[name="bag.0.county"] option[selected]`).Attr("value")
	require.True(w.t, ok)
	standing, ok := doc.Find(`input[type=radio][value=first]`).First().Attr("name")
	require.True(w.t, ok)
	res, err := http.PostForm(w.base+"/send", url.Values{
		"token": {token}, "do": {"send"}, standing: {"first"}, "bag.0.grower": {"0"},
		"bag.0.code": {code}, "bag.0.county": {county}, "bag.0.township": {at.id},
		"bag.0.day": {pulled().Format("1/2/2006")},
	})
	require.NoError(w.t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(w.t, err)
	require.Equal(w.t, http.StatusOK, res.StatusCode, string(b))
	require.Contains(w.t, string(b), code)
}

// pulled is a day of the demo's open fall on which soil may have been pulled.
func pulled() time.Time {
	return time.Date(demo.LastClosed(today())+1, time.October, 20, 0, 0, 0, 0, time.UTC)
}

func (w *walk) browse(width, height int64) context.Context {
	w.t.Helper()
	return w.browseFor(90*time.Second, width, height)
}

// browseFor is browse with more patience.
func (w *walk) browseFor(patience time.Duration, width, height int64) context.Context {
	w.t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.NoFirstRun,
		chromedp.UserDataDir(w.t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	w.t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	w.t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, patience)
	w.t.Cleanup(cancel)
	size := chromedp.EmulateViewport(width, height)
	if width < 600 {
		size = chromedp.EmulateViewport(width, height, chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	require.NoError(w.t, chromedp.Do(ctx, size))
	return ctx
}
