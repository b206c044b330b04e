package main

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/web/open"
)

// mapServer answers as the pages do: a question that is not the canonical one is
// sent on.
func mapServer(asked *[]string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		*asked = append(*asked, r.URL.String())
		switch q := r.URL.Query(); {
		case q.Get("look") == "sepia":
			http.NotFound(w, r)
		case q.Get("map") == "":
			http.Redirect(w, r, r.URL.Path+"?map=K7QF-2M", http.StatusFound)
		case q.Get("map") == "LOOP-22":
			http.Redirect(w, r, r.URL.String(), http.StatusFound)
		default:
			w.Header().Set("Content-Disposition", `attachment; filename="../plover-`+filepath.Base(r.URL.Path)+`"`)
			fmt.Fprint(w, "drawn")
		}
	})
}

func TestMapsAreWritten(t *testing.T) {
	var asked []string
	var out bytes.Buffer
	dir := t.TempDir()
	m := mapsCommand{Out: dir, File: []string{"map.pdf", "roots.pdf"}, Show: "share", Paper: []string{"slide", "letter-wide"}, Look: "ink"}
	require.NoError(t, m.write(t.Context(), console{out: &out}, mapServer(&asked), []string{"plover"}))
	require.Equal(t, "plover-map.pdf\nplover-roots.pdf\n", out.String(), "each file once, and none outside the folder")
	b, err := os.ReadFile(filepath.Join(dir, "plover-map.pdf"))
	require.NoError(t, err)
	require.Equal(t, "drawn", string(b))
	require.Equal(t, "http://127.0.0.1/county/plover/paper/map.pdf?look=ink&paper=slide&show=share", asked[0])
	require.Equal(t, len(open.PaperFiles()), len(mapsCommand{}.files()))
}

func TestMapsThatAreNot(t *testing.T) {
	var asked []string
	m := mapsCommand{Out: t.TempDir(), File: []string{"map.pdf"}, Paper: []string{"slide"}, Look: "sepia"}
	require.ErrorIs(t, m.write(t.Context(), console{out: &bytes.Buffer{}}, mapServer(&asked), []string{"plover"}), errNoSuchMap)
	m.Look, m.Map = "ink", "loop-22"
	require.ErrorContains(t, m.write(t.Context(), console{out: &bytes.Buffer{}}, mapServer(&asked), []string{"plover"}), "circle")
}

// A command that is stopped while a page is made says so, and has no empty page.
func TestARequestThatIsGivenUp(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://127.0.0.1/", nil)
	require.NoError(t, err)
	_, err = answerOf(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }), req)
	require.ErrorIs(t, err, context.Canceled)
	require.Panics(t, func() {
		_, _ = answerOf(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("another") }), req)
	})
}
