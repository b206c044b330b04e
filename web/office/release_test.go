package office

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
)

func TestPreviewSaysWhatAReleaseWouldShow(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/release?cutoff=2026-11-30")
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.text(".not-public"), "Not for release")
	require.Contains(t, page.text("main"), "The results of 15 bags:")
	require.Contains(t, page.text("main"), "Levels: Invented table.")
	require.Empty(t, page.text("#levels"), "there is a map already")
	require.Contains(t, page.text("main"), "in 1 township with figures of its own")
	require.Contains(t, page.text("main"), "in 1 group of joined townships")
	require.Contains(t, page.text("main"), "as the rest of 1 county, township not shown")
	require.Equal(t, "1 township would be shown for the first time Plover Goose Prairie (T21N R8E)", page.text("section:has(#first)"))
	require.Equal(t, "1 township would get more figures Sedge Dry Run (T20N R8E)", page.text("section:has(#more)"))
	require.Contains(t, page.text("section:has(#joined)"), "Plover Somewhere in Goose Prairie (T21N R8E), Larkin (T22N R8E) 5 3")
	require.Contains(t, page.text("section:has(#waiting)"), "7 results would wait on")
	require.Contains(t, page.text("section:has(#waiting)"), "Sedge Dry Run (T20N R8E) 4 0 2 too few senders has not waited long enough to go with its neighbors")
	require.Contains(t, page.text("section:has(#waiting)"), "Plover Larkin (T22N R8E) 2 1 2 a bag received by the cut-off has not been counted")
	require.Contains(t, page.text("section:has(#waiting)"), "Plover County only, township not known")
	require.Equal(t, "2026-11-30", page.attr("#cutoff", "value"))
	require.Equal(t, "2026-12-01", w.get(t, boss, "/office/release").attr("#cutoff", "value"), "today")
}

func TestBeforeTheFirstMapTheLevelsCanBeChosen(t *testing.T) {
	w := newWorld(t)
	w.releases.preview.Number = 1
	page := w.get(t, boss, "/office/release?cutoff=2026-11-30")
	require.Contains(t, page.text("#levels"), "Is this the level table that your state stands by?")
	require.Contains(t, page.text("#levels"), "sixmile levels list")
}

func TestReleaseOnceHoweverOftenPressed(t *testing.T) {
	w := newWorld(t)
	form := w.get(t, boss, "/office/release?cutoff=2026-11-30").fields("form[method=post][action='/office/release']")
	refused := w.post(t, boss, "/office/release", form...)
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Contains(t, refused.text("#confirm-wrong"), "Check the box")
	require.Equal(t, "#confirm", refused.attr(".problems a", "href"))
	require.Equal(t, "2026-11-30", refused.attr("#cutoff", "value"))
	require.Empty(t, w.releases.released)

	form = with(form, "confirm", "yes")
	first := w.post(t, boss, "/office/release", form...)
	require.Equal(t, http.StatusOK, first.status)
	require.Equal(t, "Edition 12 is released", first.text("h1"))
	require.Contains(t, first.text("main"), "Released on December 1, 2026, from soil received up to November 30, 2026.")
	require.Contains(t, first.text("main"), "K7QF-2M")

	w.releases.preview.Number, w.releases.preview.Stamp = 13, "other" // as the store would by now
	twice := w.post(t, boss, "/office/release", form...)
	require.Equal(t, http.StatusOK, twice.status)
	require.Equal(t, first.text("main"), twice.text("main"))
	require.Len(t, w.releases.released, 1)
}

// What changed since the preview is shown, not released.
func TestChangedPreviewIsShownAgain(t *testing.T) {
	w := newWorld(t)
	form := w.get(t, boss, "/office/release?cutoff=2026-11-30").fields("form[method=post][action='/office/release']")
	w.releases.preview.Stamp = "changed"
	w.releases.preview.Waiting = nil
	page := w.post(t, boss, "/office/release", with(form, "confirm", "yes")...)
	require.Equal(t, http.StatusConflict, page.status)
	require.Contains(t, page.text("#changed"), "Nothing was released: something changed")
	require.Empty(t, w.releases.released)
	require.Zero(t, page.Find("#confirm[checked]").Length(), "it is to be read again")
	require.Contains(t, page.text("main"), "0 results would wait on")
	form = page.fields("form[method=post][action='/office/release']")
	require.Equal(t, "2026-11-30", asMap(form)["cutoff"])
	require.Equal(t, http.StatusOK, w.post(t, boss, "/office/release", with(form, "confirm", "yes")...).status)
}

func TestTooSoonToRelease(t *testing.T) {
	w := newWorld(t)
	w.releases.preview.NextDay = date(2027, 1, 10)
	page := w.get(t, boss, "/office/release")
	require.Contains(t, page.text("#toosoon"), "Not before January 10, 2027")
	require.Zero(t, page.Find("form[method=post][action='/office/release']").Length())
	require.Contains(t, page.text("main"), "The results of 15 bags:", "the preview is still there")

	w.releases.tooSoon = true
	posted := w.post(t, boss, "/office/release", "cutoff", "2026-11-30", "number", "12", "stamp", "5f3a", "confirm", "yes")
	require.Equal(t, http.StatusConflict, posted.status)
	require.Contains(t, posted.text("#toosoon"), "Not before January 10, 2027")
}

// What the audit finds cannot be overruled: there is no button, and a form kept
// from before is refused.
func TestAnEditionThatTellsTooMuchCannotBeReleased(t *testing.T) {
	w := newWorld(t)
	form := w.get(t, boss, "/office/release?cutoff=2026-11-30").fields("form[method=post][action='/office/release']")
	w.releases.preview.Audit = []string{"then minus now: tranche 4 less tranche 2 leaves two senders"}
	page := w.get(t, boss, "/office/release?cutoff=2026-11-30")
	require.Contains(t, page.text("[aria-labelledby=audit]"), "leaves two senders")
	require.Zero(t, page.Find("form[method=post][action='/office/release']").Length())
	w.releases.found = true
	posted := w.post(t, boss, "/office/release", with(form, "confirm", "yes")...)
	require.Equal(t, http.StatusConflict, posted.status)
	require.Contains(t, posted.text("[aria-labelledby=audit]"), "cannot be released")
	require.Empty(t, w.releases.released)
}

func TestCutoffsThatCannotBe(t *testing.T) {
	w := newWorld(t)
	for typed, say := range map[string]string{"soon": "Pick a date", "2026-02-30": "Pick a date", "2026-12-02": "cannot lie in the future"} {
		for _, page := range []answer{
			w.get(t, boss, "/office/release?cutoff="+typed),
			w.post(t, boss, "/office/release", "cutoff", typed, "number", "12", "stamp", "5f3a", "confirm", "yes"),
		} {
			require.Equal(t, http.StatusUnprocessableEntity, page.status)
			require.Contains(t, page.text("#cutoff-wrong"), say)
			require.Equal(t, typed, page.attr("#cutoff", "value"))
		}
	}
	require.Equal(t, http.StatusNotFound, w.post(t, boss, "/office/release", "cutoff", "2026-11-30", "number", "x", "confirm", "yes").status)
	require.Empty(t, w.releases.released)
}

func TestNothingToRelease(t *testing.T) {
	w := newWorld(t)
	w.releases.preview.Drafts, w.releases.preview.FirstShown, w.releases.preview.Changed = nil, nil, nil
	page := w.get(t, boss, "/office/release")
	require.Contains(t, page.text("main"), "No place has enough senders for new figures.")
}

func TestEveryReasonHasItsSentence(t *testing.T) {
	l := newWorld(t).office.Lang
	for _, r := range []edition.Reason{edition.Uncounted, edition.TooFewSenders, edition.Dominance, edition.NoGrouping, edition.CountyOnly,
		edition.DistrictPatience, edition.DistrictTooFew, edition.DistrictDominance, edition.DistrictShown,
		edition.CountyPatience, edition.CountyUncounted, edition.CountyTooFew, edition.CountyDominance, edition.CountyShown} {
		require.True(t, l.Has("release.reason."+string(r)), r)
	}
}

func TestACutoffBeforeTheFirstSeason(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/release?cutoff=2000-01-01")
	require.Equal(t, http.StatusUnprocessableEntity, page.status)
	require.Contains(t, page.text("#cutoff-wrong"), "No season had opened by that day.")
	require.Equal(t, "2000-01-01", page.attr("#cutoff", "value"))
}
