package office

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
)

// Who leaves a file in the middle finds it again without its address, and nobody
// else does.
func TestAFileThatWasLeftIsFoundAgain(t *testing.T) {
	w := newWorld(t)
	require.Zero(t, w.get(t, tech, "/office/upload").Find("#found").Length())
	path, _ := w.sent(t, csvOf("code,eggs", "XXXXXXXX,24"))
	page := w.get(t, tech, "/office/upload")
	require.Contains(t, page.text("#found"), "counts.csv is still here")
	require.Equal(t, path, page.attr("#found a", "href"))
	require.Equal(t, path, w.get(t, tech, "/office").attr(".tasks li:first-child a", "href"))
	require.Zero(t, w.get(t, boss, "/office/upload").Find("#found").Length(), "another's")
	w.office.drafts.list[0].set(func(s *draftState) { s.Stage = stageTaken })
	require.Zero(t, w.get(t, tech, "/office/upload").Find("#found").Length(), "it is stored")

	path, _ = w.makeAnnual(t, url.Values{"copy": {"public"}, "year": {"season-2026"}})
	page = w.get(t, account.Coordinator, "/office/annual")
	require.Equal(t, http.StatusOK, page.status)
	require.Equal(t, path, page.attr("#found a", "href"))
	require.Contains(t, page.text("#found"), "The public’s")
}
