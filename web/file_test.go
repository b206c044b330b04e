package web

import (
	"io"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
)

// A file takes longer to come than a form may, and is answered all the same.
func TestAFileMayTakeItsTime(t *testing.T) {
	files := route("POST", "/file", account.Anyone, nil)
	files.MaxBody = 3 * maxBody
	h, err := New(options(io.Discard, nil, files, route("POST", "/form", account.Anyone, nil)))
	require.NoError(t, err)
	s := httptest.NewUnstartedServer(h)
	s.Config.ReadTimeout, s.Config.WriteTimeout = 200*time.Millisecond, 250*time.Millisecond
	s.Start()
	defer s.Close()
	for path, whole := range map[string]bool{"/file": true, "/form": false} {
		c := dialed(t, s, "POST "+path+" HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: 4\r\n\r\nab")
		time.Sleep(400 * time.Millisecond)
		_, _ = io.WriteString(c, "cd") // a form's sender may find the line closed
		got, _ := io.ReadAll(c)
		require.Equal(t, whole, strings.HasPrefix(string(got), "HTTP/1.1 200 ") && strings.HasSuffix(string(got), "here"), "%s: %s", path, got)
	}
}
