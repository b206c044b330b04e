package open

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/catalog"
	"sixmile/internal/gazette"
	"sixmile/internal/press"
)

// A few work at a time, some wait, and the rest is told to come again.
func TestPressroomKeepsAQueue(t *testing.T) {
	room := newPressroom()
	room.limit, room.line, room.patience = press.NewLimit(2), make(chan struct{}, 5), time.Minute
	free := make(chan struct{})
	var at, most, done, refused atomic.Int32
	var wg sync.WaitGroup
	for i := range 12 {
		wg.Go(func() {
			_, err := room.file(t.Context(), fmt.Sprint(i), func() (*sheet, error) {
				n := at.Add(1)
				for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
				}
				<-free
				at.Add(-1)
				return newFile(pdfKind, gazette.Edition{}, []byte{1}), nil
			})
			if errors.Is(err, press.ErrBusy) {
				refused.Add(1)
			} else if err == nil {
				done.Add(1)
			}
		})
	}
	require.Eventually(t, func() bool { return refused.Load() == 7 }, 10*time.Second, time.Millisecond)
	close(free)
	wg.Wait()
	require.EqualValues(t, 5, done.Load())
	require.EqualValues(t, 2, most.Load())
	require.Empty(t, room.line)
}

func TestPressroomPatience(t *testing.T) {
	room := newPressroom()
	room.limit, room.patience = press.NewLimit(1), time.Millisecond
	in, out := make(chan struct{}), make(chan struct{})
	go room.limit.Do(context.Background(), func() error { close(in); <-out; return nil })
	<-in
	_, err := room.file(t.Context(), "x", func() (*sheet, error) { return nil, errors.New("never made") })
	require.ErrorIs(t, err, press.ErrBusy)
	close(out)
	room.patience = time.Minute
	s, err := room.file(t.Context(), "x", func() (*sheet, error) { return newFile(pdfKind, gazette.Edition{}, nil), nil })
	require.NoError(t, err, "a refusal is not kept")
	require.NotNil(t, s)
}

// Memory is bounded, whatever is asked for, and large files are not kept.
func TestPressroomForgets(t *testing.T) {
	room := newPressroom()
	for i := range 3 * keptFiles {
		_, err := room.file(t.Context(), fmt.Sprint(i), func() (*sheet, error) { return newFile(pngKind, gazette.Edition{}, []byte{1}), nil })
		require.NoError(t, err)
	}
	require.Equal(t, keptFiles, room.files.Len())
	_, err := room.file(t.Context(), "large", func() (*sheet, error) { return newFile(zipKind, gazette.Edition{}, make([]byte, largestKept+1)), nil })
	require.NoError(t, err)
	require.False(t, room.files.Contains("large"))
}

// The reader who comes when too many do is told so in words, and when to come
// again.
func TestBusyAnswer(t *testing.T) {
	p := &paper{&maps{MapDeps: MapDeps{Lang: catalog.English()}, room: newPressroom()}}
	p.Editions = &fakeEditions{issue: func(int) *gazette.Issue { return inventedIssue() }}
	p.shelf = tongueShelf{newShelf(p.Editions, nil, slog.New(slog.DiscardHandler), time.Now), p.Lang}
	p.Now, p.Today = time.Now, time.Now
	p.room.line = make(chan struct{}) // nobody may wait
	r := chi.NewRouter()
	for _, path := range []string{"/county/{slug}/paper/{file}"} {
		r.Get(path, func(w http.ResponseWriter, r *http.Request) { require.NoError(t, p.file(w, r)) })
	}
	w := httptest.NewRecorder()
	r.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/county/plover/paper/map.pdf?map=K7QF-2M", nil))
	require.Equal(t, http.StatusServiceUnavailable, w.Code)
	require.Equal(t, "10", w.Header().Get("Retry-After"))
	require.Equal(t, "no-store", w.Header().Get("Cache-Control"))
	require.Contains(t, w.Body.String(), "Please try again in 10 seconds")
}
