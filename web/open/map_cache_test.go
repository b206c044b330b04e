package open

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"github.com/andybalholm/brotli"
	"github.com/stretchr/testify/require"

	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

func TestNotModified(t *testing.T) {
	s := newSite(inventedIssue())
	for _, path := range []string{"/", "/county/plover", "/map.svg", "/county/plover/map.svg?paper=phone&ink=1"} {
		t.Run(path, func(t *testing.T) {
			first := s.get(path)
			require.Equal(t, http.StatusOK, first.Code)
			tag := first.Header().Get("ETag")
			require.Contains(t, tag, "K7QF-2M")
			require.Equal(t, "no-cache", first.Header().Get("Cache-Control"))
			again := s.get(path, "If-None-Match", `"other", `+tag)
			require.Equal(t, http.StatusNotModified, again.Code)
			require.Empty(t, again.Body.Bytes())
			require.Equal(t, tag, again.Header().Get("ETag"))
			require.Equal(t, http.StatusOK, s.get(path, "If-None-Match", `"other"`).Code)
		})
	}
}

func TestTagsDiffer(t *testing.T) {
	s := newSite(inventedIssue())
	seen := map[string]string{}
	for _, path := range []string{"/", "/county/plover", "/county/osier", "/map.svg", "/county/plover/map.svg",
		"/county/plover/map.svg?ink=1", "/county/plover/map.svg?paper=slide"} {
		tag := s.get(path).Header().Get("ETag")
		require.Empty(t, seen[tag], "%s has the tag of another", path)
		seen[tag] = path
	}
}

func TestPacked(t *testing.T) {
	s := newSite(inventedIssue())
	plain := s.get("/county/plover").Body.Bytes()
	gz := s.get("/county/plover", "Accept-Encoding", "gzip, deflate")
	require.Equal(t, "gzip", gz.Header().Get("Content-Encoding"))
	zr, err := gzip.NewReader(gz.Body)
	require.NoError(t, err)
	unpacked, err := io.ReadAll(zr)
	require.NoError(t, err)
	require.True(t, bytes.Equal(plain, unpacked))
	br := s.get("/county/plover", "Accept-Encoding", "gzip;q=0.5, br")
	require.Equal(t, "br", br.Header().Get("Content-Encoding"))
	unpacked, err = io.ReadAll(brotli.NewReader(br.Body))
	require.NoError(t, err)
	require.True(t, bytes.Equal(plain, unpacked))
	require.Contains(t, br.Header().Values("Vary"), "Accept-Encoding")
}

func TestAccepted(t *testing.T) {
	for header, want := range map[string]string{
		"": "", "gzip": "gzip", "br, gzip": "br", "br;q=0, gzip": "gzip", "gzip;q=0": "", "GZIP": "gzip", "deflate, *": "",
		"gzip;q=nonsense": "",
	} {
		require.Equal(t, want, shell.Coding([]string{header}), header)
	}
}

func TestHead(t *testing.T) {
	p, err := newSheet(htmlKind, gazette.Edition{Code: "K7QF-2M"}, []byte("<p>words</p>"))
	require.NoError(t, err)
	w := httptest.NewRecorder()
	p.send(w, httptest.NewRequest(http.MethodHead, "/", nil))
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "12", w.Header().Get("Content-Length"))
	require.Empty(t, w.Body.Bytes())
}

// A page is rendered once, and the edition is loaded once, however many ask.
func TestRenderedOnce(t *testing.T) {
	s := newSite(inventedIssue())
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() {
			if w := s.get("/county/plover"); w.Code != http.StatusOK {
				t.Error(w.Code)
			}
		})
	}
	wg.Wait()
	require.EqualValues(t, 1, s.store.loaded.Load())
	sh := newShelf(s.store, nil, nil, s.clock.now)
	r, err := sh.current(t.Context())
	require.NoError(t, err)
	renders := 0
	for range 3 {
		_, err = sh.sheet(r, "a", func() (*sheet, error) { renders++; return &sheet{}, nil })
		require.NoError(t, err)
	}
	require.Equal(t, 1, renders)
}

// While the database does not answer, what was last known is shown; a program
// that never knew anything says so.
func TestDatabaseGone(t *testing.T) {
	s := newSite(inventedIssue())
	s.store.down.Store(true)
	require.Equal(t, http.StatusInternalServerError, s.get("/").Code, "the error goes to the one table")
	s.store.down.Store(false)
	require.Equal(t, http.StatusOK, s.get("/").Code)

	s.store.down.Store(true)
	asked := s.store.asked.Load()
	for range 5 {
		require.Equal(t, http.StatusOK, s.get("/county/osier").Code, "never rendered before")
	}
	require.Equal(t, asked+1, s.store.asked.Load(), "it is not asked again at once")
	require.Contains(t, s.log.String(), "level=WARN")
	require.Contains(t, s.log.String(), "connection refused")
	s.clock.forward(retryAfter)
	s.store.down.Store(false)
	require.Equal(t, http.StatusOK, s.get("/").Code)
	require.Equal(t, asked+2, s.store.asked.Load())
}

// A new edition shows at once, and one that is withdrawn goes at once.
func TestEditionsFollow(t *testing.T) {
	old, fresh := inventedIssue(), inventedIssue()
	old.Edition.Number, old.Edition.Code, old.Tranches = 11, "AAAA-22", old.Tranches[:30]
	s := newSite(old)
	s.store.issue = func(no int) *gazette.Issue { return map[int]*gazette.Issue{11: old, 12: fresh}[no] }
	require.Contains(t, s.get("/").Body.String(), "AAAA-22")
	s.store.no.Store(12)
	require.Contains(t, s.get("/").Body.String(), "K7QF-2M")
	s.store.no.Store(11)
	require.Contains(t, s.get("/").Body.String(), "AAAA-22")
}

// Withdrawing an earlier edition changes what a later one shows, whose number
// stays: the version says so at once. Anything else, such as the name of a place,
// shows after a while. Where nothing changed, what was rendered is kept.
func TestEarlierEditionWithdrawn(t *testing.T) {
	s := newSite(nil)
	s.store.no.Store(12)
	all := inventedIssue()
	s.store.issue = func(int) *gazette.Issue { return all }
	sh := newShelf(s.store, nil, nil, s.clock.now)
	read := func() *reading {
		r, err := sh.current(t.Context())
		require.NoError(t, err)
		return r
	}
	first := read()
	s.clock.forward(freshFor)
	all = inventedIssue()
	require.Equal(t, first.gen, read().gen)
	require.EqualValues(t, 2, s.store.loaded.Load())

	all = inventedIssue()
	all.Tranches = all.Tranches[1:]
	s.store.gone.Store(1)
	withdrawn := read()
	require.NotEqual(t, first.gen, withdrawn.gen, "at once")
	require.Less(t, withdrawn.index.State().Samples, first.index.State().Samples)

	all = inventedIssue()
	all.Counties[0].Name = "Wexford"
	s.clock.forward(freshFor - time.Second)
	require.Equal(t, withdrawn.gen, read().gen)
	s.clock.forward(time.Second)
	require.NotEqual(t, withdrawn.gen, read().gen)
}

// An edition that cannot be read leaves the last one standing.
func TestBrokenEdition(t *testing.T) {
	good, broken := inventedIssue(), inventedIssue()
	broken.Tranches[0].Counts = []int{1}
	s := newSite(good)
	require.Equal(t, http.StatusOK, s.get("/").Code)
	s.store.issue = func(int) *gazette.Issue { return broken }
	s.store.no.Store(13)
	require.Equal(t, http.StatusOK, s.get("/").Code)
	require.Contains(t, s.log.String(), "level tables")
}
