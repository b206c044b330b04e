package open

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	stdmaps "maps"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"sixmile/static"
)

// capture serves the grower's pages and writes down every request whole, as it
// came over the wire; the browser's own events tell of requests to anywhere.
type capture struct {
	site string

	mu       sync.Mutex
	requests []string
	asked    []string // addresses, by the browser's account
}

func newCapture(t *testing.T) (*capture, *fakeNames) {
	d, names := namedDeps()
	mux := http.NewServeMux()
	mux.Handle("/static/", static.Handler())
	mux.Handle("/", handlerOf(d))
	c := &capture{}
	ts := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			http.Error(w, "unread", http.StatusBadRequest)
			return
		}
		r.Body = io.NopCloser(strings.NewReader(string(body)))
		c.note(r, string(body))
		w.Header().Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		w.Header().Set("Permissions-Policy", "geolocation=(self)")
		mux.ServeHTTP(w, r)
	}))
	t.Cleanup(ts.Close)
	c.site = ts.URL
	return c, names
}

// boundaryOf finds what parts a posted form; browsers draw it at random.
var boundaryOf = regexp.MustCompile(`WebKitFormBoundary\w+`)

func (c *capture) note(r *http.Request, body string) {
	if strings.HasPrefix(r.URL.Path, "/static/") || r.URL.Path == "/favicon.ico" {
		body = "" // noted all the same
	}
	var b strings.Builder
	fmt.Fprintln(&b, r.Method, r.URL.String())
	for _, name := range slices.Sorted(stdmaps.Keys(r.Header)) {
		fmt.Fprintln(&b, name, r.Header[name])
	}
	b.WriteString(body)
	text := strings.ReplaceAll(boundaryOf.ReplaceAllString(b.String(), "boundary"), r.Host, "site")
	c.mu.Lock()
	defer c.mu.Unlock()
	c.requests = append(c.requests, text)
}

// all lists the requests in an order that does not depend on which of several
// at once came first.
func (c *capture) all() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	out := slices.Clone(c.requests)
	slices.Sort(out)
	return out
}

// stand lets the browser be somewhere.
func stand(t *testing.T, ctx context.Context, lon, lat, accuracy float64) {
	t.Helper()
	_, err := chromedp.Call(ctx, emulation.SetGeolocationOverride, emulation.SetGeolocationOverrideParams{
		Latitude: &lat, Longitude: &lon, Accuracy: &accuracy,
	})
	require.NoError(t, err)
}

// openForm opens a fresh browser on the form, with leave or not to ask for a
// position, and listens to all that the browser asks of anybody.
func (c *capture) openForm(t *testing.T, allowed browser.PermissionSetting) context.Context {
	t.Helper()
	ctx := browse(t, true, false)
	_, err := chromedp.CallBrowser(ctx, browser.SetPermission, browser.SetPermissionParams{
		Permission: &browser.PermissionDescriptor{Name: "geolocation"}, Setting: allowed, Origin: c.site,
	})
	require.NoError(t, err)
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			c.mu.Lock()
			c.asked = append(c.asked, e.Request.URL)
			c.mu.Unlock()
		}
	}))
	_, err = chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(c.site+"/send?county=sedge"), chromedp.WaitVisible(`[data-locate]`)))
	return ctx
}

func evaluate(t *testing.T, ctx context.Context, js string) string {
	t.Helper()
	out, err := chromedp.Run(ctx, chromedp.Evaluate[string](js))
	require.NoError(t, err)
	return out
}

const (
	townshipNow = `document.getElementById("bag.0.township").value`
	saidNow     = `document.querySelector(".place-ways [role=status]").textContent`
)

// becomes waits for an expression to have a value.
func becomes(t *testing.T, ctx context.Context, js, want string) {
	t.Helper()
	got := ""
	require.Eventually(t, func() bool {
		got = evaluate(t, ctx, js)
		return got == want
	}, 15*time.Second, 50*time.Millisecond, "%s should become %q", js, want)
}

func locate(t *testing.T, ctx context.Context) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`[data-locate]`)))
}

// sendFrom stands somewhere in township 202, has the place filled in, and sends
// the form. It returns every request of it.
func sendFrom(t *testing.T, lon, lat float64) []string {
	t.Helper()
	c, names := newCapture(t)
	ctx := c.openForm(t, browser.PermissionSettingGranted)
	stand(t, ctx, lon, lat, 12)
	locate(t, ctx)
	becomes(t, ctx, townshipNow, "202")
	require.Equal(t, "2", evaluate(t, ctx, `document.getElementById("bag.0.county").value`))
	require.Contains(t, evaluate(t, ctx, saidNow), "T8N R13E, Plover")
	code := testCodes(t, 1)[0]
	evaluate(t, ctx, fmt.Sprintf(`(() => { document.getElementById("bag.0.code").value = %q; document.getElementById("bag.0.day").value = "2026-10-31"; return "" })()`, code))
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(`.send-now button`), chromedp.WaitVisible(`.receipt`)))
	require.Len(t, names.taken, 1)
	require.EqualValues(t, 202, names.taken[0].Senders[0].Bags[0].Place)
	for _, address := range c.asked {
		require.True(t, strings.HasPrefix(address, c.site) || strings.HasPrefix(address, "data:"), "a request to %s", address)
	}
	require.Empty(t, evaluate(t, ctx, `JSON.stringify({...localStorage, ...sessionStorage}).replace("{}", "") + document.cookie`), "nothing is kept either")
	return c.all()
}

// No coordinate leaves the browser, rounded or not. Two phones at far corners of
// one township make the same requests, to the letter: so nothing in them can
// depend on the position but the township. And, for the reader, no figure of the
// position is in them either.
func TestNoCoordinateLeavesTheBrowser(t *testing.T) {
	here, there := [2]float64{-92.96273, 41.59347}, [2]float64{-92.99111, 41.61862}
	first, second := sendFrom(t, here[0], here[1]), sendFrom(t, there[0], there[1])
	require.Greater(t, len(first), 5)
	require.Equal(t, first, second, "a request depends on the position")
	all := strings.Join(first, "\n")
	require.Contains(t, all, "bag.0.township=202")
	for _, degrees := range []float64{here[0], here[1], there[0], there[1]} {
		for digits := 1; digits <= 5; digits++ {
			for _, figure := range []string{fmt.Sprintf("%.*f", digits, math.Abs(degrees)),
				fmt.Sprint(math.Trunc(math.Abs(degrees)*math.Pow10(digits)) / math.Pow10(digits))} {
				require.NotContains(t, all, figure)
			}
		}
	}
	for _, word := range []string{"lat", "lon", "accuracy", "coords", "position"} {
		require.NotRegexp(t, `[?&]`+word, all)
	}
}

// Where a position does not settle the township, the form asks or says why.
func TestPositionsThatDoNotSettleIt(t *testing.T) {
	c, _ := newCapture(t)
	ctx := c.openForm(t, browser.PermissionSettingGranted)
	became := func(part string) {
		t.Helper()
		require.Eventually(t, func() bool { return strings.Contains(evaluate(t, ctx, saidNow), part) }, 15*time.Second, 50*time.Millisecond, part)
	}
	stand(t, ctx, -93.02065, 41.59, 40) // the line between 201 and 202
	locate(t, ctx)
	became("close to a line")
	require.Equal(t, "2", evaluate(t, ctx, `String(document.querySelectorAll(".place-asked button").length)`))
	require.Empty(t, evaluate(t, ctx, townshipNow), "nothing is filled in before somebody has said which")
	require.Equal(t, "BUTTON", evaluate(t, ctx, `document.activeElement.tagName`), "the keyboard goes on with the question")
	evaluate(t, ctx, `[...document.querySelectorAll(".place-asked button")].find((b) => b.textContent.includes("R12E")).click() ?? ""`)
	becomes(t, ctx, townshipNow, "201")

	stand(t, ctx, -90, 45, 10)
	locate(t, ctx)
	became("outside Tamarack")
	became("do not mail it")
	require.Equal(t, "201", evaluate(t, ctx, townshipNow), "what was chosen stays")

	stand(t, ctx, -92.96273, 41.59347, 40_000)
	locate(t, ctx)
	became("25 miles")

	// Inside of the only township near, but the circle reaches over the state line.
	stand(t, ctx, -92.96273, 41.5511, 40)
	locate(t, ctx)
	became("close to a line")
	require.Equal(t, "1", evaluate(t, ctx, `String(document.querySelectorAll(".place-asked button").length)`))

	_, err := chromedp.Call(ctx, emulation.SetGeolocationOverride, emulation.SetGeolocationOverrideParams{})
	require.NoError(t, err)
	locate(t, ctx)
	became("could not be found")

	refused, _ := newCapture(t)
	ctx = refused.openForm(t, browser.PermissionSettingDenied)
	locate(t, ctx)
	became("may not use the position")
}

// The county's map on the form: opened, walked and chosen on by keyboard; what
// was typed stays.
func TestMapOnTheFormByKeyboard(t *testing.T) {
	c, _ := newCapture(t)
	ctx := c.openForm(t, browser.PermissionSettingPrompt)
	evaluate(t, ctx, `(() => { document.getElementById("bag.0.acres").value = "40to80"; document.querySelector("[data-pick-map]").focus(); return "" })()`)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("\r"), chromedp.WaitVisible(`.place-map-here svg`)))
	label := evaluate(t, ctx, `document.activeElement.getAttribute("aria-label")`)
	require.Equal(t, "T11N R8E", label, "the first township has the focus, in the northwest")
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("\t"), chromedp.KeyEvent("\r")))
	becomes(t, ctx, townshipNow, "110")
	require.Equal(t, "40to80", evaluate(t, ctx, `document.getElementById("bag.0.acres").value`))
	require.Contains(t, evaluate(t, ctx, saidNow), "T11N R9E, Sedge")
	require.Equal(t, "0", evaluate(t, ctx, `String(document.querySelectorAll(".place-map-here svg").length)`))

	// Without a signal the form stays, and says so.
	evaluate(t, ctx, `(() => { window.fetch = () => Promise.reject(new TypeError("no signal")); document.querySelector("[data-pick-map]").click(); return "" })()`)
	becomes(t, ctx, `String(`+saidNow+`.includes("could not be fetched"))`, "true")
	require.Equal(t, "40to80", evaluate(t, ctx, `document.getElementById("bag.0.acres").value`))
}

// meters are points with their place in a zone as PostGIS projects them; the
// test of package postgres with the same file holds them to PostGIS.
type meters struct {
	Lon, Lat float64
	Zone     int
	South    bool
	X, Y     float64
}

// The script's projection against PROJ, through PostGIS: well under a meter
// anywhere that a state in one zone may reach.
func TestProjectionOfTheScript(t *testing.T) {
	data, err := os.ReadFile("testdata/meters.json")
	require.NoError(t, err)
	var points []meters
	require.NoError(t, json.Unmarshal(data, &points))
	require.Greater(t, len(points), 50)
	c, _ := newCapture(t)
	ctx := c.openForm(t, browser.PermissionSettingPrompt)
	for _, p := range points {
		out := evaluate(t, ctx, fmt.Sprintf(`JSON.stringify(toMeters(%v, %v, %d, %t))`, p.Lon, p.Lat, p.Zone, p.South))
		var got [2]float64
		require.NoError(t, json.Unmarshal([]byte(out), &got))
		require.Less(t, math.Hypot(got[0]-p.X, got[1]-p.Y), 0.01, "%+v: %v", p, got)
	}
}
