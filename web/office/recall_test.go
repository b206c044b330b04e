package office

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
	"sixmile/internal/edition"
)

func TestGroupIsTakenBack(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/recall?county=1")
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.text("section:has(#groups)"), "Goose Prairie (T21N R8E) January 9, 2026 fall of 2025 7 3 or more")
	require.Contains(t, page.text("section:has(#groups)"), "Somewhere in Goose Prairie (T21N R8E), Larkin (T22N R8E) January 9, 2026 falls up to 2025 5 3 or more")
	require.Contains(t, page.text("section:has(#back)"), "Sedge Dry Run (T20N R8E) November 3, 2026 bags came from elsewhere Nothing in it was put right yet.")
	require.Zero(t, page.Find("#erratum").Length())

	refused := w.post(t, boss, "/office/recall", "do", "recall", "county", "1", "reason", "whim<script>alert(1)</script>")
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Equal(t, 3, refused.Find(".problems a").Length())
	require.Contains(t, refused.text("#group-wrong"), "Choose the group")
	require.Contains(t, refused.text("#reason-wrong"), "Choose what was wrong")
	kept := w.post(t, boss, "/office/recall", "do", "recall", "county", "1", "group", "11/4", "reason", "counting")
	require.Equal(t, http.StatusUnprocessableEntity, kept.status)
	require.Equal(t, "11/4", kept.attr("input[name=group][checked]", "value"), "what was chosen is kept")
	require.Equal(t, "counting", kept.attr("input[name=reason][checked]", "value"))
	require.False(t, w.ledger.groups[0].Recalled)

	done := w.post(t, boss, "/office/recall", "do", "recall", "county", "1", "group", "11/4", "reason", "counting", "confirm", "yes")
	require.Equal(t, http.StatusOK, done.status)
	require.Contains(t, done.text("[role=status]"), "taken back")
	require.Equal(t, desk.WrongCount, w.ledger.groups[0].Reason)
	require.NotContains(t, done.text("section:has(#groups)"), "January 9, 2026 fall of 2025 7")
	twice := w.post(t, boss, "/office/recall", "do", "recall", "county", "1", "group", "11/4", "reason", "counting", "confirm", "yes")
	require.Equal(t, http.StatusConflict, twice.status)
	require.Contains(t, twice.text("#group-wrong"), "does not stand any more")
}

func TestErratumIsReleasedAsShown(t *testing.T) {
	w := newWorld(t)
	w.ledger.again = desk.Again{Number: 12, Kind: edition.Erratum, Stamp: "5f3a", Groups: w.ledger.groups[2:]}
	form := w.get(t, boss, "/office/recall").fields("form:has(#sure)")
	refused := w.post(t, boss, "/office/recall", with(form, "do", "erratum")...)
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Contains(t, refused.text("#sure-wrong"), "Check the box")
	require.Empty(t, w.ledger.amended)

	form = with(with(form, "do", "erratum"), "sure", "yes")
	done := w.post(t, boss, "/office/recall", form...)
	require.Contains(t, done.text("[role=status]"), "ZZZZ-33")
	require.Equal(t, []int{12}, w.ledger.amended)
	w.ledger.again.Stamp = "other"
	require.Equal(t, http.StatusConflict, w.post(t, boss, "/office/recall", form...).status)

	w.ledger.again.Audit = []string{"Somebody could be told."}
	page := w.get(t, boss, "/office/recall")
	require.Contains(t, page.text("section:has(#erratum)"), "Somebody could be told.")
	require.Zero(t, page.Find("#sure").Length(), "what the audit finds cannot be overruled")
}

func TestEditionsAreFoundVerifiedAndWithdrawn(t *testing.T) {
	w := newWorld(t)
	page := w.get(t, boss, "/office/editions?code=k7qf2m")
	require.Equal(t, http.StatusOK, page.status)
	require.Contains(t, page.text("tr.chosen"), "11 K7QF-2M is the one you looked for new results January 9, 2026 2025 Ohio")
	require.Contains(t, page.text("main"), "1 group taken back")
	none := w.get(t, boss, "/office/editions?code=%3Cscript%3Ealert")
	require.Equal(t, http.StatusNotFound, none.status)
	require.Contains(t, none.text("#code-wrong"), "No edition prints that code")

	good := w.post(t, boss, "/office/editions", "do", "verify", "number", "11")
	require.Contains(t, good.text("[role=status]"), "1,204 results counted again")
	w.ledger.differs = true
	bad := w.post(t, boss, "/office/editions", "do", "verify", "number", "11")
	require.Equal(t, http.StatusConflict, bad.status)
	require.Contains(t, bad.text("[role=alert]"), "is not what was released (11/4)")

	text := w.get(t, boss, "/office/editions/11/text")
	require.Equal(t, "edition 11\n", text.body)
	require.Contains(t, text.header.Get("Content-Disposition"), "edition-11.txt")
	require.Equal(t, http.StatusNotFound, w.get(t, boss, "/office/editions/x/text").status)

	refused := w.post(t, boss, "/office/editions", "do", "withdraw", "number", "11", "reason", "other")
	require.Equal(t, http.StatusUnprocessableEntity, refused.status)
	require.Equal(t, "11", refused.attr("#number option[selected]", "value"))
	require.Empty(t, w.ledger.gone)
	done := w.post(t, boss, "/office/editions", "do", "withdraw", "number", "11", "reason", "other", "confirm", "yes")
	require.Contains(t, done.text("[role=status]"), "Edition 11 is withdrawn")
	require.Equal(t, http.StatusConflict, w.post(t, boss, "/office/editions", "do", "withdraw", "number", "11", "reason", "other", "confirm", "yes").status)
}
