package web

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/web/shell"
)

// dialed is a connection to a server, over which a question has been asked.
func dialed(t *testing.T, s *httptest.Server, question string) *net.TCPConn {
	c, err := net.Dial("tcp", s.Listener.Addr().String())
	require.NoError(t, err)
	t.Cleanup(func() { c.Close() })
	require.NoError(t, c.SetDeadline(time.Now().Add(waits)))
	_, err = io.WriteString(c, question)
	require.NoError(t, err)
	return c.(*net.TCPConn)
}

// Who leaves while an answer is under way is no failure of the database, and from
// where he asked is in no log.
func TestAReaderWhoLeavesIsInNoLog(t *testing.T) {
	var log bytes.Buffer
	ended := make(chan error, 1)
	o := options(&log, nil, shell.Route{Method: "GET", Path: "/long", May: account.Anyone, Handler: func(w http.ResponseWriter, _ *http.Request) error {
		for {
			if _, err := w.Write(make([]byte, 1<<16)); err != nil {
				ended <- err
				return err
			}
		}
	}})
	o.Unavailable = func(err error) bool { var network net.Error; return errors.As(err, &network) } // as of a database
	h, err := New(o)
	require.NoError(t, err)
	s := httptest.NewServer(h)
	c := dialed(t, s, "GET /long HTTP/1.1\r\nHost: x\r\n\r\n")
	require.NoError(t, c.Close())
	require.ErrorContains(t, <-ended, c.LocalAddr().String(), "a connection's error says whose it was")
	s.Close() // once the request is over
	require.NotContains(t, log.String(), c.LocalAddr().String())
	require.NotContains(t, log.String(), "level=WARN")
}

// Who has said all and listens on is taken for one who has left; he does not get an
// empty page that says it is all right.
func TestAnAnswerThatWasGivenUpIsNotAnEmptyPage(t *testing.T) {
	h, err := New(options(io.Discard, nil, shell.Route{Method: "GET", Path: "/slow", May: account.Anyone, Handler: func(_ http.ResponseWriter, r *http.Request) error {
		<-r.Context().Done()
		return fmt.Errorf("store: %w", r.Context().Err())
	}}))
	require.NoError(t, err)
	s := httptest.NewServer(h)
	defer s.Close()
	c := dialed(t, s, "GET /slow HTTP/1.1\r\nHost: x\r\n\r\n")
	require.NoError(t, c.CloseWrite())
	got, err := io.ReadAll(c)
	require.NoError(t, err)
	require.Empty(t, string(got))
}

// A form that stops half way is not an empty form: nothing is done with it.
func TestAFormThatIsCutShortIsRefused(t *testing.T) {
	done := 0
	form := func(_ http.ResponseWriter, r *http.Request) error {
		_, err := shell.Posted(r)
		if err == nil {
			done++
		}
		return err
	}
	var log bytes.Buffer
	h, err := New(options(&log, nil, shell.Route{Method: "POST", Path: "/send", May: account.Anyone, Handler: form}))
	require.NoError(t, err)
	s := httptest.NewUnstartedServer(h)
	s.Config.ReadTimeout = 200 * time.Millisecond
	s.Start()
	const head = "POST /send HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\n"
	for name, c := range map[string]*net.TCPConn{
		"left":    dialed(t, s, head+"Content-Length: 40\r\n\r\ncode=ABCD&do="),
		"slow":    dialed(t, s, head+"Content-Length: 40\r\n\r\ncode=ABCD&do="),
		"in bits": dialed(t, s, head+"Transfer-Encoding: chunked\r\n\r\nd\r\ncode=ABCD&do=\r\nzz\r\n"),
	} {
		if name == "left" {
			require.NoError(t, c.CloseWrite())
		}
		got, err := io.ReadAll(c)
		require.NoError(t, err, name)
		require.True(t, strings.HasPrefix(string(got), "HTTP/1.1 400 "), "%s: %s", name, got)
		require.Contains(t, string(got), "did not arrive whole", name)
	}
	s.Close()
	require.Zero(t, done)
	require.NotContains(t, log.String(), "127.0.0.1")
	require.NotContains(t, log.String(), "level=WARN")
}
