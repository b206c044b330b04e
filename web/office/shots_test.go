package office

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/web/shell"
)

// TestInABrowser keys a count by keyboard alone and looks at every page. It keeps
// pictures in the folder SIXMILE_SHOTS, if that names one, for people to look at.
func TestInABrowser(t *testing.T) {
	dir := os.Getenv("SIXMILE_SHOTS")
	w := newWorld(t)
	for i := range 8 {
		c := codes[4+i]
		if _, there := w.soil.in[c]; !there {
			w.soil.in[c] = i == 3
		}
	}
	ts := httptest.NewServer(backDoor(w.handler))
	t.Cleanup(ts.Close)
	for view, size := range map[string][2]int64{"wide": {1440, 900}, "phone": {390, 844}, "dark": {1440, 900}} {
		t.Run(view, func(t *testing.T) {
			b := newBrowser(t, size, view == "dark")
			b.dir, b.view = dir, view
			b.walk(t, w, ts.URL)
		})
	}
}

type browser struct {
	ctx       context.Context
	dir, view string
}

func newBrowser(t *testing.T, size [2]int64, dark bool) *browser {
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()))
	if dark {
		opts = append(opts, chromedp.Flag("blink-settings", "preferredColorScheme=0"))
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancel)
	if size[0] < 500 {
		require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(size[0], size[1], chromedp.EmulateMobile, chromedp.EmulateScale(2))))
	} else {
		require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(size[0], size[1])))
	}
	return &browser{ctx: ctx}
}

func (b *browser) do(t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	require.NoError(t, chromedp.Do(b.ctx, actions...))
}

func (b *browser) shot(t *testing.T, name string) {
	t.Helper()
	if b.dir != "" {
		png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(b.dir, "office-"+name+"-"+b.view+".png"), png, 0o600))
	}
	wide, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > document.documentElement.clientWidth"))
	require.NoError(t, err)
	require.False(t, wide, "%s scrolls sideways", name)
}

func (b *browser) text(t *testing.T, selector string) string {
	t.Helper()
	got, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.querySelector('"+selector+"').innerText"))
	require.NoError(t, err)
	return got
}

func (b *browser) value(t *testing.T, selector string) string {
	t.Helper()
	got, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.querySelector('"+selector+"').value"))
	require.NoError(t, err)
	return got
}

// as signs in as a role, by the test server's own back door.
func (b *browser) as(t *testing.T, role account.Role, base string) {
	t.Helper()
	b.do(t, chromedp.Navigate(base+"/as/"+string(role)))
}

// backDoor signs in whoever asks for /as/role.
func backDoor(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		role, ours := strings.CutPrefix(r.URL.Path, "/as/")
		if !ours {
			next.ServeHTTP(w, r)
			return
		}
		http.SetCookie(w, &http.Cookie{Name: shell.SessionCookie, Value: tokenOf(account.Role(role)).String(), Path: "/office"})
		http.Redirect(w, r, "/office", http.StatusSeeOther)
	})
}

// typed waits for the keyboard to be in a field, and types.
func (b *browser) typed(t *testing.T, field, text string) {
	t.Helper()
	require.Eventually(t, func() bool {
		there, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("document.activeElement !== null && document.activeElement.matches('"+field+"')"))
		return err == nil && there
	}, 20*time.Second, 50*time.Millisecond, "the keyboard is not in %s", field)
	b.do(t, chromedp.KeyEvent(text))
}

func (b *browser) walk(t *testing.T, w *world, base string) {
	b.do(t, chromedp.Navigate(base+"/office/sign-in?to=/office/count"))
	b.shot(t, "signin")
	b.typed(t, "#login", "technician"+kb.Tab+"wrong"+kb.Enter)
	b.do(t, chromedp.WaitVisible(".problems"))
	b.shot(t, "signin-wrong")

	b.as(t, account.Technician, base)
	b.do(t, chromedp.Navigate(base+"/office/login-bags"))
	for _, c := range []string{codes[4].String(), codes[5].String(), codes[7].String(), "O0XXAAAA"} {
		b.typed(t, "#scan", c+kb.Enter)
		b.do(t, chromedp.WaitVisible("#outcome .outcome"), chromedp.Sleep(200*time.Millisecond))
	}
	require.Contains(t, b.text(t, "#outcome"), "Character 1 was read as O.")
	b.shot(t, "soil")

	c := codes[0]
	w.lab.bags[c] = desk.LabBag{Code: c, State: bag.SoilIn, HasForm: true}
	b.do(t, chromedp.Navigate(base+"/office/count"))
	b.typed(t, "#find", c.String()+kb.Enter)
	b.typed(t, "#eggs1", "40")
	b.typed(t, "#eggs1", "+ +-") // tally
	require.Equal(t, "42", b.value(t, "#eggs1"))
	b.do(t, chromedp.WaitVisible(".density"))
	require.Contains(t, b.text(t, "#reading"), "2,100")
	b.shot(t, "count")
	b.do(t, chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(".saved"))
	require.Contains(t, b.text(t, "#saved"), "2,100, moderate, likely 1,513 to 2,839")
	b.shot(t, "count-saved")
	// The keyboard is back in the field for the next bag.
	b.typed(t, "#find", c.String()+kb.Enter)
	b.typed(t, "#eggs1", "x4"+kb.Enter)
	b.do(t, chromedp.WaitVisible(".problems"))
	b.shot(t, "count-refused")
	b.typed(t, "#eggs1[aria-invalid]", "50"+kb.Enter) // over what stood there
	b.typed(t, "#why", "The fig")
	require.Equal(t, "mistyped", b.value(t, "#why"))
	b.shot(t, "count-replace")
	b.do(t, chromedp.Evaluate[chromedp.Void](`document.getElementById("method").value = "sieve_crush_250cm3.1";
		document.getElementById("method").dispatchEvent(new Event("change"))`), chromedp.WaitVisible(".note[role=status]"))
	require.Contains(t, b.text(t, "#reading"), "1,000")

	w.trays.plan.Target = 1500
	w.trays.controls = checks(30, 28, 33, 31, 27, 30, 35, 29, 31, 30, 26, 33, 30, 52, 28, 31)
	w.signoff.batches = []desk.Batch{{ID: desk.ID{70}, Day: today, By: "coordinator", Bags: 9, Unconfirmed: 2}}
	w.twins.twins = []desk.Twin{{Day: today, Kind: assay.SameSuspension, Code: codes[0], First: assay.DefaultMethod().Count(42), Second: assay.DefaultMethod().Count(90), Method: assay.DefaultMethod()}}
	draft := w.upload(t, account.Coordinator, []byte(csvOf("Bag code,Date counted,Eggs 1,mL,Notes", codes[0].String()+",2026-11-20,42,2,", codes[7].String()+",2026-11-20,x,2,torn", codes[3].String()+",2026-11-20,9,2,")))
	b.as(t, account.Coordinator, base)
	for name, path := range map[string]string{
		"trays": "/office/trays", "tray": "/office/trays/1", "slip": "/office/slip?code=" + string(codes[1]), "history": "/office/bag?code=" + string(codes[0]),
		"quality": "/office/quality", "methods": "/office/methods", "upload": "/office/upload", "draft": draft.header.Get("Location"), "signoff": "/office/sign-off",
		"reported": "/office/reported", "indicator": "/office/indicator?code=" + string(codes[0]), "again": "/office/count?again=" + string(codes[0]),
	} {
		b.do(t, chromedp.Navigate(base+path))
		b.shot(t, name)
	}
	for name, path := range map[string]string{"desk": "/office", "lots": "/office/lots", "queue": "/office/queue", "release": "/office/release"} {
		b.do(t, chromedp.Navigate(base+path))
		b.shot(t, name)
	}
}
