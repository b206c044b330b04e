package web

import (
	"bufio"
	"bytes"
	"context"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/net/http/httpguts"
)

// Door is where connections come in. Requests for pages that the front remembers
// it answers itself, on the connection, before net/http has seen them; all else it
// hands on unread.
//
// The standard server spends more on a request than a remembered page costs: a
// goroutine that watches the connection, a map of headers copied and sorted,
// deadlines, writes in pieces of 4 kB. It reads the next request only once the
// last answer is out, and it says so (http.StateIdle). So between two requests the
// bytes that the server asks for pass through here, and where they are one whole
// request for a remembered page they are answered and the server goes on waiting.
//
// What a request is, the standard library decides here too (http.ReadRequest), and
// the door takes only those without a body that come in one piece with nothing after
// it. A connection that once brought a request in pieces, or more than one at once,
// is the server's own from then on: where a request ends is not for two to know.
type Door struct {
	net.Listener
	front *front
	idle  time.Duration
	left  atomic.Int32 // answers under way on connections that the server has closed
	date  atomic.Pointer[dateLine]
}

// NewDoor puts a door before srv, whose handler is one of New. Times out as srv
// does: its IdleTimeout bounds the wait for a request and the writing of an answer.
func NewDoor(srv *http.Server, l net.Listener) *Door {
	d := &Door{Listener: l, idle: srv.IdleTimeout}
	d.front, _ = srv.Handler.(*front)
	srv.ConnState = func(c net.Conn, s http.ConnState) {
		if v, ok := c.(*visitor); ok && s == http.StateIdle {
			v.idle()
		}
	}
	return d
}

// Accept waits for a connection.
func (d *Door) Accept() (net.Conn, error) {
	c, err := d.Listener.Accept()
	if tcp, ok := c.(*net.TCPConn); ok && err == nil && d.front != nil {
		return &visitor{TCPConn: tcp, door: d}, nil
	}
	return c, err
}

// Wait waits until the answers are out that were under way when the server was
// shut down, or until ctx ends.
func (d *Door) Wait(ctx context.Context) {
	for d.left.Load() > 0 {
		select {
		case <-time.After(5 * time.Millisecond): // http.Server.Shutdown looks no more often
		case <-ctx.Done():
			return
		}
	}
}

// dateLine is the Date header of one second, and the end of the headers.
type dateLine struct {
	second int64
	line   []byte
}

func (d *Door) dateAt(now time.Time) []byte {
	l := d.date.Load()
	if l == nil || l.second != now.Unix() {
		l = &dateLine{now.Unix(), []byte("Date: " + now.UTC().Format(http.TimeFormat) + "\r\n\r\n")}
		d.date.Store(l)
	}
	return l.line
}

// Where a connection is.
const (
	fresh   = iota // nothing has been read
	within         // the server has been handed one whole request
	early          // and the first byte of the next one, before it was idle
	between        // the server waits, and nothing of the next request has been read
	servers        // the server's own for good
)

// Whether the door writes on a connection.
const (
	quiet = iota
	answering
	closing // and is to be closed after that
)

// visitor is a connection. One goroutine at a time reads and writes it, the one
// that serves it; only Close may come from elsewhere.
type visitor struct {
	*net.TCPConn
	door  *Door
	state int
	first byte // of the next request, while it is early
	busy  atomic.Int32
	until time.Time // a deadline of the door's own, or zero
	parts [3][]byte
	list  net.Buffers
}

// idle is told by the server that it waits for the next request.
func (v *visitor) idle() {
	if v.state == within {
		v.state = between
	}
}

// Read gives the server what comes in, other than what the door answers.
func (v *visitor) Read(p []byte) (int, error) {
	for {
		n, err := v.TCPConn.Read(p)
		if n == 0 {
			return n, err
		}
		if v.state == between && err == nil {
			if done, err := v.answer(p[:n]); err != nil {
				return 0, err
			} else if done {
				continue
			}
		}
		v.hand(p[:n], len(p) == 1)
		return n, err
	}
}

// hand notes what the server gets to read. While it answers it watches the
// connection by reading one byte.
func (v *visitor) hand(p []byte, watching bool) {
	if !v.until.IsZero() {
		v.until = time.Time{}
		_ = v.SetWriteDeadline(v.until) // fails only on a closed connection, which brings nothing more
	}
	switch {
	case v.state == within && watching:
		v.state, v.first = early, p[0]
		return
	case v.state == early:
		p = append([]byte{v.first}, p...)
	case v.state == within, v.state == servers:
		v.state = servers // more came than one request
		return
	}
	v.state = servers
	if wholeRequest(p) != nil {
		v.state = within
	}
}

// answer writes the remembered answer to what has come in, if there is one.
func (v *visitor) answer(asked []byte) (done bool, err error) {
	r := wholeRequest(asked)
	if r == nil || r.Method != http.MethodGet || r.Header["Content-Length"] != nil {
		return false, nil
	}
	now := time.Now()
	p, head, body := v.door.front.known(r)
	if p == nil {
		return false, nil
	}
	if !v.busy.CompareAndSwap(quiet, answering) {
		return false, net.ErrClosed
	}
	// To set a deadline costs; to the hundredth is near enough.
	if d := v.door.idle; d > 0 && v.until.Before(now.Add(d-d/100)) {
		v.until = now.Add(d)
		err = v.SetDeadline(v.until)
	}
	if err == nil {
		v.parts = [3][]byte{head, v.door.dateAt(now), body}
		v.list = v.parts[:]
		_, err = v.list.WriteTo(v.TCPConn)
	}
	if !v.busy.CompareAndSwap(answering, quiet) {
		_ = v.TCPConn.Close()
		v.door.left.Add(-1)
		return true, net.ErrClosed
	}
	status := http.StatusOK
	if body == nil {
		status = http.StatusNotModified
	}
	v.door.front.tell(r, p, status, now)
	return true, err
}

// Close closes the connection, once the answer that is being written is out.
func (v *visitor) Close() error {
	v.door.left.Add(1)
	if v.busy.CompareAndSwap(answering, closing) {
		return nil
	}
	v.door.left.Add(-1)
	return v.TCPConn.Close()
}

// wholeRequest is the request that these bytes are: exactly one, with all of its
// body, without anything that asks for more than an answer, and such as net/http
// would not refuse. Nil: not so, or not certain.
func wholeRequest(p []byte) *http.Request {
	in := bytes.NewReader(p)
	buffered := readers.Get().(*bufio.Reader)
	defer func() { buffered.Reset(nil); readers.Put(buffered) }()
	buffered.Reset(in)
	r, err := http.ReadRequest(buffered)
	if err != nil || r.Proto != "HTTP/1.1" || r.Close || r.Method != http.MethodGet && r.Method != http.MethodPost ||
		r.TransferEncoding != nil || r.ContentLength != int64(in.Len()+buffered.Buffered()) {
		return nil
	}
	head := p[:len(p)-int(r.ContentLength)]
	// Each line is a header that was kept as it stands: none folded, none dropped as
	// a second host or a coding of the body would be.
	lines := 3 // the request's own, the host's, the empty one
	for name, values := range r.Header {
		switch name {
		case "Trailer", "Expect", "Upgrade":
			return nil
		}
		if !httpguts.ValidHeaderFieldName(name) {
			return nil
		}
		for _, v := range values {
			if !httpguts.ValidHeaderFieldValue(v) {
				return nil
			}
		}
		lines += len(values)
	}
	if bytes.Count(head, []byte("\n")) != lines || r.Host == "" || !httpguts.ValidHostHeader(r.Host) {
		return nil
	}
	return r
}

var readers = sync.Pool{New: func() any { return bufio.NewReader(nil) }}
