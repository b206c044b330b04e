package static

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"path"
	"regexp"
	"testing"

	"github.com/andybalholm/brotli"
	"github.com/stretchr/testify/require"
)

// Every file comes whole in every coding, and for ever at its own address.
func TestFiles(t *testing.T) {
	h := Handler()
	for name, f := range all {
		for _, coding := range []string{"", "gzip", "br", "gzip, deflate, br", "zstd"} {
			r := httptest.NewRequest(http.MethodGet, Path(name), nil)
			r.Header.Set("Accept-Encoding", coding)
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			require.Equal(t, http.StatusOK, w.Code, name)
			require.NotEmpty(t, w.Header().Get("Content-Type"), name)
			require.Contains(t, w.Header().Get("Cache-Control"), "immutable", name)
			var body io.Reader = w.Body
			switch w.Header().Get("Content-Encoding") {
			case "br":
				body = brotli.NewReader(body)
			case "gzip":
				var err error
				body, err = gzip.NewReader(body)
				require.NoError(t, err)
			}
			got, err := io.ReadAll(body)
			require.NoError(t, err)
			require.True(t, bytes.Equal(f.body, got), "%s as %q", name, coding)

			again := httptest.NewRequest(http.MethodGet, Path(name), nil)
			again.Header.Set("Accept-Encoding", coding)
			again.Header.Set("If-None-Match", w.Header().Get("ETag"))
			w = httptest.NewRecorder()
			h.ServeHTTP(w, again)
			require.Equal(t, http.StatusNotModified, w.Code, name)
		}
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/static/../static.go", nil))
	require.Equal(t, http.StatusNotFound, w.Code)
	require.Contains(t, string(all[Drawing].body), "font/woff2;base64,")
}

// Nothing on a page moves by itself or glides, so that who asks for less motion
// (WCAG 2.2: 2.2.2, 2.3.3) asks for nothing that is not so already.
func TestNothingMoves(t *testing.T) {
	moves := regexp.MustCompile(`transition[-a-z]*\s*:|animation[-a-z]*\s*:|@keyframes|scroll-behavior|behavior:\s*["']smooth|\.animate\(|<animate`)
	for name, f := range all {
		if ext := path.Ext(name); ext != ".css" && ext != ".js" && ext != ".svg" {
			continue
		}
		for _, found := range moves.FindAll(f.body, -1) {
			t.Errorf("%s: %s", name, found)
		}
	}
}
