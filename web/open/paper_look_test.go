//go:build pictures

package open

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/static"
)

// TestPaperShots writes every file of a county, and pictures of the pages, into
// the folder SIXMILE_SHOTS for people to look at:
// go test -tags pictures -run PaperShots ./web/open.
func TestPaperShots(t *testing.T) {
	dir := os.Getenv("SIXMILE_SHOTS")
	require.NotEmpty(t, dir, "SIXMILE_SHOTS names no folder for pictures")
	s := newSite(inventedIssue())
	for _, f := range paperFiles {
		for _, question := range []string{"?map=K7QF-2M", "?map=K7QF-2M&look=ink"} {
			w := s.get("/county/plover/paper/" + f.name + question)
			if w.Code == http.StatusFound {
				continue
			}
			require.Equal(t, http.StatusOK, w.Code, f.name, w.Body.String())
			c, err := readChoice(map[string][]string{"look": {map[bool]string{true: "ink", false: "color"}[len(question) > 12]}}, inventedIssue().Editions)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, f.saveAs("plover", c)), w.Body.Bytes(), 0o600))
		}
	}
	for _, show := range []string{"recent", "typical", "share", "samples", "new"} {
		w := s.get("/county/plover/paper/map.pdf?show=" + show + "&map=K7QF-2M")
		require.Equal(t, http.StatusOK, w.Code)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "map-"+show+".pdf"), w.Body.Bytes(), 0o600))
	}
	mux := http.NewServeMux()
	mux.Handle("/static/", static.Handler())
	mux.Handle("/", s)
	ts := httptest.NewServer(mux)
	t.Cleanup(ts.Close)
	for page, path := range map[string]string{"print": "/county/plover/print", "print-dark": "/county/plover/print?show=share&paper=slide&look=dark",
		"print-tall": "/county/plover/print?show=new&map=W4TR-7H&paper=letter-tall&look=ink", "years": "/county/plover/years?map=W4TR-7H"} {
		for view, size := range map[string][2]int64{"wide": {1440, 900}, "phone": {390, 844}} {
			shoot(t, ts.URL+path, size, "", filepath.Join(dir, "page-"+page+"-"+view+".png"))
		}
	}
	shoot(t, ts.URL+"/county/plover/print", [2]int64{1440, 900}, "dark", filepath.Join(dir, "page-print-night.png"))
}
