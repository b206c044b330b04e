package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"sixmile/internal/demo"
)

// js evaluates an expression to a text.
func (w *walk) js(ctx context.Context, expr string) string {
	w.t.Helper()
	out, err := chromedp.Run(ctx, chromedp.Evaluate[string](expr))
	require.NoError(w.t, err)
	return out
}

// waitFor polls until a condition holds in the page.
func (w *walk) waitFor(ctx context.Context, condition string) {
	w.t.Helper()
	var last string
	for range 200 {
		out, err := chromedp.Run(ctx, chromedp.Evaluate[string](`String(!!(`+condition+`))`))
		if err == nil && out == "true" {
			return
		}
		last = fmt.Sprint(out, err)
		time.Sleep(50 * time.Millisecond)
	}
	page, _ := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("main")?.innerText ?? ""`))
	w.t.Fatalf("never: %s (%s) on\n%s", condition, last, page)
}

func (w *walk) text(ctx context.Context, address, selector string) string {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Navigate(address)))
	return w.js(ctx, fmt.Sprintf(`document.querySelector(%q).innerText`, selector))
}

// set fills in a field by its name.
func (w *walk) set(ctx context.Context, name, value string) {
	w.t.Helper()
	w.js(ctx, fmt.Sprintf(`(() => { const f = document.querySelector('[name=%q]'); f.value = %q;
		f.dispatchEvent(new Event("input", {bubbles: true})); f.dispatchEvent(new Event("change", {bubbles: true})); return f.value })()`, name, value))
}

// sendOnAPhone sends two bags of one new farm on a phone-sized screen, the
// second with "another bag, same farm", and returns the answers' links.
func (w *walk) sendOnAPhone(at township, first, second string) []string {
	w.t.Helper()
	phone := w.browse(390, 844)
	require.NoError(w.t, chromedp.Do(phone, chromedp.Navigate(w.base+"/send?bag="+strings.ReplaceAll(first, "-", ""))))
	require.NoError(w.t, chromedp.Do(phone, chromedp.Click(fmt.Sprintf(`.counties a[href*="county=%s"]`, at.countySlug)), chromedp.WaitVisible(`form.visit`)))
	// The page fits the phone: nothing sticks out to the right.
	require.Equal(w.t, "true", w.js(phone, `String(document.documentElement.scrollWidth <= 390)`))
	require.Equal(w.t, first, w.js(phone, `document.querySelector('[name="bag.0.code"]').value.replace(/^(.{4})(.{4})$/, "$1-$2")`), "the code came along from the square code")
	require.NoError(w.t, chromedp.Do(phone, chromedp.Click(`input[type=radio][value=first]`)))
	w.set(phone, "bag.0.township", at.id)
	w.set(phone, "bag.0.day", pulled().Format(time.DateOnly))
	w.set(phone, "bag.0.crop", "soybean")
	require.NoError(w.t, chromedp.Do(phone, chromedp.Click(`button[name=do][value=bag]`), chromedp.WaitVisible(`[name="bag.1.code"]`)))
	require.Equal(w.t, at.id, w.js(phone, `document.querySelector('[name="bag.1.township"]').value`), "same as last bag")
	// A slip of the pen first: the form comes back with the sentence at the field, and all that was typed.
	w.set(phone, "bag.1.code", "ABCD-EFGO")
	require.NoError(w.t, chromedp.Do(phone, chromedp.Click(`.send-now button`), chromedp.WaitVisible(`.problems`)))
	require.Equal(w.t, "true", w.js(phone, `document.querySelector('[name="bag.1.code"]').getAttribute("aria-invalid")`))
	require.Equal(w.t, at.id, w.js(phone, `document.querySelector('[name="bag.0.township"]').value`))
	w.set(phone, "bag.1.code", second)
	require.NoError(w.t, chromedp.Do(phone, chromedp.Click(`.send-now button`)))
	w.waitFor(phone, `document.querySelectorAll('main a[href*="/answer/"]').length >= 2`)
	require.Equal(w.t, "true", w.js(phone, `String(document.documentElement.scrollWidth <= 390)`))
	links := strings.Fields(w.js(phone, `[...new Set([...document.querySelectorAll('main a[href*="/answer/"]')].map(a => a.href))].join(" ")`))
	require.Len(w.t, links, 2)
	require.Equal(w.t, "", w.js(phone, `document.cookie`))
	return links
}

func (w *walk) signIn(ctx context.Context, login string) {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Navigate(w.base+"/office"), chromedp.WaitVisible(`[name=password]`),
		chromedp.SendKeys(`[name=login]`, login), chromedp.SendKeys(`[name=password]`, demo.Password+kb.Enter),
		chromedp.WaitVisible(`.office-bar`)))
}

// typed sends keys to whatever has the focus: nothing is clicked.
func (w *walk) typed(ctx context.Context, keys string) {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.KeyEvent(keys)))
}

// tabTo presses Tab until the element has the focus.
func (w *walk) tabTo(ctx context.Context, element string) {
	w.t.Helper()
	for range 500 {
		if w.js(ctx, `String(document.activeElement === `+element+`)`) == "true" {
			return
		}
		w.typed(ctx, kb.Tab)
	}
	w.t.Fatalf("Tab does not lead to %s", element)
}

// logIn scans every bag: code, Enter.
func (w *walk) logIn(ctx context.Context, codes []string) {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Navigate(w.base+"/office/login-bags")))
	for _, c := range codes {
		w.waitFor(ctx, `document.activeElement.name === "scan" && document.activeElement.value === ""`)
		w.typed(ctx, strings.ReplaceAll(c, "-", "")+kb.Enter)
		w.waitFor(ctx, fmt.Sprintf(`document.querySelector("#outcome").innerText.includes(%q)`, c))
	}
}

// key counts one bag without the mouse: code, Enter, eggs, Enter.
func (w *walk) key(ctx context.Context, code, eggs string) {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Navigate(w.base+"/office/count")))
	w.waitFor(ctx, `document.activeElement.name === "find" || document.activeElement.name === "code"`)
	w.typed(ctx, code+kb.Enter)
	w.waitFor(ctx, `document.activeElement.name && document.activeElement.name.includes("eggs")`)
	w.typed(ctx, eggs)
	w.waitFor(ctx, `/\d/.test(document.querySelector("#reading").innerText)`)
	w.typed(ctx, kb.Enter)
	w.waitFor(ctx, fmt.Sprintf(`document.querySelector("#saved")?.innerText.includes(%q)`, code))
}

// release looks at the preview and releases what it shows.
func (w *walk) release(ctx context.Context, at township) {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Navigate(w.base+"/office/release")))
	w.waitFor(ctx, `document.querySelector(".not-public")`)
	require.Contains(w.t, w.js(ctx, `document.querySelector("main").innerText`), at.name)
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Click(`#confirm`), chromedp.Click(`form[method=post]:has(#confirm) .actions button`)))
	w.waitFor(ctx, `document.querySelector('main a.button[href="/"]')`)
}

// signOff signs the counts of bags without the mouse: the township's first finds
// are held and have to be ticked, the rest is ticked already.
func (w *walk) signOff(ctx context.Context, codes []string) {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Navigate(w.base+"/office/sign-off")))
	w.waitFor(ctx, `document.querySelector('#results input[name=result]')`)
	held := 0
	for _, c := range codes {
		box := fmt.Sprintf(`[...document.querySelectorAll('tr:has(input[name=result])')].find(r => r.innerText.includes(%q)).querySelector('input')`, c)
		if w.js(ctx, `String(`+box+`.checked)`) == "true" {
			continue
		}
		held++
		w.tabTo(ctx, box)
		w.typed(ctx, " ")
		w.waitFor(ctx, box+`.checked`)
	}
	require.Positive(w.t, held, "first finds of a township are held for a look")
	w.typed(ctx, kb.Enter)
	w.waitFor(ctx, `document.querySelector('.saved a[href$="slips.pdf"]')`)
	w.waitFor(ctx, fmt.Sprintf(`![...document.querySelectorAll('#results tr')].some(r => r.innerText.includes(%q))`, codes[0]))
}

// correct puts another count in the place of one that was mistyped, without the
// mouse: the page asks why, and says afterward what it was.
func (w *walk) correct(ctx context.Context, code, was, eggs string) {
	w.t.Helper()
	require.NoError(w.t, chromedp.Do(ctx, chromedp.Navigate(w.base+"/office/count")))
	w.waitFor(ctx, `document.activeElement.name === "find"`)
	w.typed(ctx, code+kb.Enter)
	w.waitFor(ctx, `document.activeElement.name === "eggs1" && document.querySelector("#standing")`)
	w.typed(ctx, eggs+kb.Enter)
	w.waitFor(ctx, `document.activeElement.name === "why" && document.querySelector(".problems")`)
	w.typed(ctx, "The figure")
	w.waitFor(ctx, `document.querySelector("#why").value === "mistyped"`)
	w.typed(ctx, kb.Tab+kb.Enter)
	w.waitFor(ctx, fmt.Sprintf(`document.querySelector("#saved")?.innerText.includes(%q)`, code))
	history := w.text(ctx, w.base+"/office/bag?code="+code, "main")
	require.Contains(w.t, history, "The figure keyed was not the figure counted")
	require.Contains(w.t, history, was+" in 2 mL")
	require.Contains(w.t, history, eggs+" in 2 mL")
}
