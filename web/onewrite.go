package web

import (
	"context"
	"net"
	"net/http"
)

// OneWrite readies a server to send the front's answers each in one write. The
// standard server gathers answers in 4 kB: of a longer one it writes the first
// 4 kB by themselves and the rest after them, which costs a second call of the
// system and wakes the reader twice. The connection holds the first piece back
// until the rest is there, and only where the front has said that a longer
// answer comes now.
func OneWrite(srv *http.Server, l net.Listener) net.Listener {
	srv.ConnContext = func(ctx context.Context, c net.Conn) context.Context {
		return context.WithValue(ctx, gatherKey{}, c)
	}
	return gathering{l}
}

type gatherKey struct{}

// firstPiece is what the standard server gathers before it writes (the size of a
// bufio.Writer in net/http). Were it another, nothing would be held back.
const firstPiece = 4096

// inOneWrite says that an answer with a body of this length comes next.
func inOneWrite(r *http.Request, length int) {
	// A longer body than the first piece is certain to need two writes.
	if length <= firstPiece {
		return
	}
	if c, ok := r.Context().Value(gatherKey{}).(*gatherer); ok {
		c.more = true
	}
}

type gathering struct{ net.Listener }

func (l gathering) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if tcp, ok := c.(*net.TCPConn); ok && err == nil {
		return &gatherer{TCPConn: tcp}, nil
	}
	return c, err
}

// gatherer is a connection of which one goroutine at a time writes, the one that
// answers.
type gatherer struct {
	*net.TCPConn
	more  bool // the next write of a whole first piece is the beginning of a longer answer
	held  bool
	first [firstPiece]byte
	parts [2][]byte
	list  net.Buffers
}

// Write sends, or holds the first piece until the next write brings the rest.
func (c *gatherer) Write(p []byte) (int, error) {
	switch {
	case c.more && len(p) == firstPiece:
		copy(c.first[:], p)
		c.more, c.held = false, true
		return len(p), nil
	case c.held:
		c.held = false
		c.parts = [2][]byte{c.first[:], p}
		c.list = c.parts[:]
		n, err := c.list.WriteTo(c.TCPConn)
		return max(0, int(n)-firstPiece), err
	}
	c.more = false
	return c.TCPConn.Write(p)
}
