package web

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// through is a site behind a door or behind none, and how many requests net/http
// was left with.
type through struct {
	*kept
	srv  *http.Server
	door *Door
	at   string
	rest atomic.Int32
	done atomic.Int32 // of those
}

const waits = 10 * time.Second

func serveKept(t testing.TB, length int, door bool, idle time.Duration) *through {
	s := &through{kept: newKept(t, length)}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.at = l.Addr().String()
	s.srv = &http.Server{Handler: s.Handler, IdleTimeout: idle}
	if door {
		s.door = NewDoor(s.srv, l)
		l = s.door
	}
	told := s.srv.ConnState
	s.srv.ConnState = func(c net.Conn, state http.ConnState) {
		if told != nil {
			told(c, state)
		}
		if state == http.StateIdle {
			s.done.Add(1)
		}
	}
	// The door knows the front; what it hands on is counted.
	s.srv.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.rest.Add(1)
		s.Handler.ServeHTTP(w, r)
	})
	go s.srv.Serve(l) //nolint:errcheck // ends with an error when it is closed
	t.Cleanup(func() { s.srv.Close() })
	return s
}

// call is a connection on which each question waits for the answer to the one before.
type call struct {
	net.Conn
	site *through
	in   *bufio.Reader
	all  strings.Builder // what came, without the dates
}

func (s *through) call(t testing.TB) *call {
	c, err := net.Dial("tcp", s.at)
	require.NoError(t, err)
	t.Cleanup(func() { c.Close() })
	require.NoError(t, c.SetDeadline(time.Now().Add(10*time.Second)))
	return &call{Conn: c, site: s, in: bufio.NewReader(c)}
}

// ask asks and reads the answer.
//
// An answer is out a moment before net/http waits for the next question; whoever
// asks within that moment is answered by net/http. Here nobody does.
func (c *call) ask(t testing.TB, question string) {
	for c.site.done.Load() < c.site.rest.Load() {
		time.Sleep(100 * time.Microsecond)
	}
	_, err := io.WriteString(c, question)
	require.NoError(t, err)
	c.answer(t)
}

// answer reads one answer as it is, and keeps it.
func (c *call) answer(t testing.TB) {
	length := 0
	for {
		line, err := c.in.ReadString('\n')
		require.NoError(t, err)
		c.keep(line)
		_, _ = fmt.Sscanf(line, "Content-Length: %d", &length)
		if line == "\r\n" {
			break
		}
	}
	body := make([]byte, length)
	_, err := io.ReadFull(c.in, body)
	require.NoError(t, err)
	c.all.Write(body)
}

func (c *call) keep(line string) {
	if !strings.HasPrefix(line, "Date: ") {
		c.all.WriteString(line)
	}
}

// rest reads until the other side has closed.
func (c *call) rest(t testing.TB) string {
	_ = c.Conn.(*net.TCPConn).CloseWrite() // fails where the other side has reset
	for {
		line, err := c.in.ReadString('\n')
		c.keep(line)
		if err != nil {
			return c.all.String()
		}
	}
}

const page = "GET /county/x HTTP/1.1\r\nHost: x\r\n\r\n"

// What goes over a connection is the same with the door and without, header for
// header, whatever the length; and with it net/http is left with the first request.
func TestDoorAnswersAsTheServerDoes(t *testing.T) {
	for _, length := range []int{0, 10, 3000, 4096, 7000, 500_000} {
		var raw [2]string
		for i := range raw {
			s := serveKept(t, length, i == 1, waits)
			c := s.call(t)
			for range 3 {
				c.ask(t, page)
			}
			c.ask(t, "GET /county/x HTTP/1.1\r\nHost: x\r\nIf-None-Match: W/\"tag\"\r\n\r\n")
			require.EqualValues(t, []int{4, 1}[i], s.rest.Load())
			c.ask(t, "GET /answer/x HTTP/1.1\r\nHost: x\r\n\r\n")
			c.ask(t, page)
			c.ask(t, "GET /county/x HTTP/1.1\r\nHost: x\r\nAccept: text/html\r\nAccept-Language: es\r\n\r\n")
			c.ask(t, page)
			c.ask(t, "GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
			c.ask(t, page)
			require.EqualValues(t, []int{10, 4}[i], s.rest.Load())
			c.ask(t, "POST /form HTTP/1.1\r\nHost: x\r\nContent-Length: 7\r\n\r\na=b&c=d")
			c.ask(t, page)
			require.EqualValues(t, []int{12, 5}[i], s.rest.Load())
			s.stands.Store(false)
			c.ask(t, page)
			raw[i] = c.rest(t)
			s.mu.Lock()
			raw[i] += fmt.Sprint(s.told)
			s.mu.Unlock()
		}
		require.True(t, raw[0] == raw[1], length)
		require.Equal(t, 11, strings.Count(raw[1], " 200 OK\r\n"))
	}
}

// Requests that are not the plainest are left to the server, each with all that
// comes after it, on a connection whose pages the door has answered until then.
func TestDoorLeavesTheRestToTheServer(t *testing.T) {
	for name, question := range map[string]string{
		"two at once":          page + page,
		"a body":               "GET /county/x HTTP/1.1\r\nHost: x\r\nContent-Length: 36\r\n\r\n" + page,
		"a length of none":     "GET /county/x HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n\r\n",
		"two lengths":          "GET /county/x HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\nContent-Length: 5\r\n\r\n",
		"a body in chunks":     "GET /county/x HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
		"chunks to come":       "GET /county/x HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n",
		"a form":               "POST /county/x HTTP/1.1\r\nHost: x\r\nContent-Length: 4\r\n\r\n\r\n\r\n" + page,
		"no host":              "GET /county/x HTTP/1.1\r\n\r\n",
		"two hosts":            "GET /county/x HTTP/1.1\r\nHost: x\r\nHost: y\r\n\r\n",
		"a host of nonsense":   "GET /county/x HTTP/1.1\r\nHost: x y\r\n\r\n",
		"a folded header":      "GET /county/x HTTP/1.1\r\nHost: x\r\nX: y\r\n z\r\n\r\n",
		"a space in a name":    "GET /county/x HTTP/1.1\r\nHost: x\r\nContent-Length : 5\r\n\r\n",
		"bare line feeds":      "GET /county/x HTTP/1.1\nHost: x\n\r\n\r\n",
		"a control character":  "GET /county/x HTTP/1.1\r\nHost: x\r\nX: \x00\r\n\r\n",
		"the older protocol":   "GET /county/x HTTP/1.0\r\nHost: x\r\n\r\n",
		"the last":             "GET /county/x HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n",
		"something expected":   "GET /county/x HTTP/1.1\r\nHost: x\r\nExpect: tea\r\n\r\n",
		"another protocol":     "GET /county/x HTTP/1.1\r\nHost: x\r\nConnection: Upgrade, HTTP2-Settings\r\nUpgrade: h2c\r\nHTTP2-Settings: AAMAAABkAAQAAP__\r\n\r\n",
		"a whole address":      "GET http://x/county/x HTTP/1.1\r\nHost: x\r\n\r\n",
		"a head only":          "HEAD /county/x HTTP/1.1\r\nHost: x\r\n\r\n",
		"an address of escape": "GET /county%2Fx HTTP/1.1\r\nHost: x\r\n\r\n",
		"a bad escape":         "GET /county/%zz HTTP/1.1\r\nHost: x\r\n\r\n",
		"a long head":          "GET /county/x HTTP/1.1\r\nHost: x\r\nX: " + strings.Repeat("y", 5000) + "\r\n\r\n",
		"nothing":              "",
		"half of one":          page[:30],
		"nonsense":             "\r\n\r\n\r\n\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var raw [2]string
			for i := range raw {
				s := serveKept(t, 5, i == 1, waits)
				c := s.call(t)
				c.ask(t, page)
				c.ask(t, page)
				_, err := io.WriteString(c, question)
				require.NoError(t, err)
				raw[i] = c.rest(t)
			}
			require.Equal(t, raw[0], raw[1])
		})
	}
}

// A request that comes in pieces is whole in the end, and so are those after it.
func TestDoorPutsNothingTogether(t *testing.T) {
	s := serveKept(t, 5, true, waits)
	c := s.call(t)
	c.ask(t, page)
	c.ask(t, page)
	require.EqualValues(t, 1, s.rest.Load())
	for _, piece := range []string{page[:10], page[10:20], page[20:]} {
		_, err := io.WriteString(c, piece)
		require.NoError(t, err)
		time.Sleep(20 * time.Millisecond) // so that it is a piece
	}
	c.answer(t)
	c.ask(t, page)
	require.Equal(t, 4, strings.Count(c.rest(t), " 200 OK\r\n"))
}

// A reader quicker than net/http, whose watch for one that leaves gets the first
// byte of the next question, does not lose the door for good.
func TestDoorFindsTheBeginningAgain(t *testing.T) {
	v := &visitor{}
	for _, step := range []struct {
		bytes    string
		watching bool
		then     int
	}{
		{page, false, within},
		{"", false, between},
		{page, false, within},
		{"G", true, early},
		{"", false, early},
		{page[1:], false, within},
		{"G", true, early},
		{page[1:] + page, false, servers},
		{"", false, servers},
		{page, false, servers},
	} {
		if step.bytes == "" {
			v.idle()
		} else {
			v.hand([]byte(step.bytes), step.watching)
		}
		require.Equal(t, step.then, v.state, "%+v", step)
	}
	v = &visitor{}
	v.hand([]byte("POST /send HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\n\r\n12"), false)
	v.idle()
	require.Equal(t, between, v.state)
	v.hand([]byte("POST /send HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\n\r\n1"), false)
	v.idle()
	require.Equal(t, servers, v.state)
}

// A server that is shut down while a slow reader is being answered lets the answer
// finish.
func TestDoorFinishesWhatIsUnderWay(t *testing.T) {
	const long = 30_000_000 // more than any buffer of the system's
	s := serveKept(t, long, true, waits)
	c := s.call(t)
	c.ask(t, page)
	_, err := io.WriteString(c, page)
	require.NoError(t, err)
	_, err = c.in.ReadByte() // the answer has begun
	require.NoError(t, err)
	require.NoError(t, s.srv.Shutdown(t.Context()))

	short, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	s.door.Wait(short)
	require.Error(t, short.Err(), "it waits as long as it may")
	n, err := io.Copy(io.Discard, c.in)
	require.NoError(t, err)
	require.Greater(t, n, int64(long))
	s.door.Wait(t.Context())
	require.EqualValues(t, 1, s.rest.Load())
	_, err = net.Dial("tcp", s.at)
	require.Error(t, err)
}

// Whoever says nothing is shown out, also after many pages.
func TestDoorEndsIdleConnections(t *testing.T) {
	s := serveKept(t, 5, true, time.Second)
	c := s.call(t)
	for range 5 {
		c.ask(t, page)
		time.Sleep(400 * time.Millisecond) // in all longer than the wait for one
	}
	require.EqualValues(t, 1, s.rest.Load())
	_, err := c.in.ReadByte()
	require.ErrorIs(t, err, io.EOF)
}

// Whatever follows two pages on a connection, the answers are those of net/http
// without a door.
func FuzzDoor(f *testing.F) {
	var sites [2]*through
	for i := range sites {
		sites[i] = serveKept(f, 5, i == 1, waits)
	}
	for _, first := range []string{
		page, page + page,
		"GET /county/x HTTP/1.1\r\nHost: x\r\nContent-Length: 36\r\n\r\n" + page,
		"GET /county/x?a=b HTTP/1.1\r\nHost: x\r\nAccept-Encoding: br, gzip;q=0\r\nAccept: text/html\r\nAccept-Language: es;q=0.5\r\n\r\n",
		"POST /form HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\n\r\na=b",
		"POST /county/x HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n4\r\n\r\n\r\n\r\n0\r\n\r\n",
	} {
		f.Add([]byte(first), []byte(page))
	}
	f.Fuzz(func(t *testing.T, first, second []byte) {
		var raw [2]string
		whole := wholeRequest(first)
		for i, s := range sites {
			c, rest := s.call(t), slices.Concat(first, second)
			for range 2 {
				_, err := io.WriteString(c, page)
				require.NoError(t, err)
				c.answer(t)
			}
			if whole != nil {
				_, err := c.Write(first)
				require.NoError(t, err)
				res, err := http.ReadResponse(c.in, whole)
				require.NoError(t, err, "what the door takes for a whole request has an answer")
				body, err := io.ReadAll(res.Body)
				require.NoError(t, err)
				res.Header.Del("Date")
				fmt.Fprint(&c.all, res.Status, res.Header, string(body))
				rest = second
			}
			// A server that has heard enough has closed.
			_, _ = c.Write(rest)
			raw[i] = c.rest(t)
		}
		if raw[0] != raw[1] {
			t.Fatalf("%q\n%q\nwithout %q\nwith %q", first, second, raw[0], raw[1])
		}
	})
}
