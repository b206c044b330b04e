package office

import (
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A large file reaches a reader who takes longer over it than a page may.
func TestALargeFileMayTakeItsTime(t *testing.T) {
	body := make([]byte, 30_000_000) // more than any buffer of the system's
	s := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := sendFile(w, r, kindPDF, "x.pdf", body); err != nil {
			t.Error(err)
		}
	}))
	s.Config.WriteTimeout = 200 * time.Millisecond
	s.Start()
	defer s.Close()
	res, err := http.Get(s.URL)
	require.NoError(t, err)
	defer res.Body.Close()
	time.Sleep(400 * time.Millisecond)
	n, err := io.Copy(io.Discard, res.Body)
	require.NoError(t, err)
	require.EqualValues(t, len(body), n)
}
