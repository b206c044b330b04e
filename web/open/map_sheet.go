package open

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"

	"github.com/andybalholm/brotli"

	"sixmile/internal/gazette"
	"sixmile/web/shell"
)

// sheet is a page or drawing as it goes out, with its tag. Compressing takes
// longer than anything else about a kept page, so it is done once.
type sheet struct {
	kind   string // content type
	etag   string
	plain  []byte
	packed map[string][]byte // by content coding
}

// newSheet packs a body. The tag names the edition and the body: the same
// edition reads differently after an update of the program.
func newSheet(kind string, e gazette.Edition, body []byte) (*sheet, error) {
	sum := sha256.Sum256(body)
	code := e.Code
	if code == "" {
		code = "0"
	}
	s := &sheet{kind: kind, etag: `W/"` + code + "-" + hex.EncodeToString(sum[:8]) + `"`, plain: body}
	var gz, br bytes.Buffer
	zw := gzip.NewWriter(&gz)
	bw := brotli.NewWriterLevel(&br, brotli.DefaultCompression)
	for _, w := range []interface {
		Write([]byte) (int, error)
		Close() error
	}{zw, bw} {
		if _, err := w.Write(body); err != nil {
			return nil, err
		}
		if err := w.Close(); err != nil {
			return nil, err
		}
	}
	s.packed = map[string][]byte{"gzip": gz.Bytes(), "br": br.Bytes()}
	return s, nil
}

// send answers with a page or drawing made of a reading, and lets the server's
// front give it again while the reading is the newest and the day the same: the
// calendar decides what a page says of its office.
func (m *maps) send(w http.ResponseWriter, r *http.Request, now *reading, s *sheet) {
	day, gen := m.Today(), now.gen // and not the reading, which is large
	shell.Keep(r, shell.Kept{
		Tag: s.etag, Body: s.body(shell.Coding(r.Header.Values("Accept-Encoding"))),
		Stands: func(ctx context.Context) bool {
			newest, err := m.shelf.current(ctx)
			return err == nil && newest.gen == gen && m.Today().Equal(day)
		},
	})
	s.send(w, r)
}

// body is the sheet in a coding, plain for none.
func (s *sheet) body(coding string) []byte {
	if b, ok := s.packed[coding]; ok {
		return b
	}
	return s.plain
}

// send answers with the sheet, or with 304 where the reader has it.
func (s *sheet) send(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("ETag", s.etag)
	h.Set("Cache-Control", "no-cache") // may be kept, and is asked about each time
	h.Add("Vary", "Accept-Encoding")
	if shell.Holds(r.Header.Values("If-None-Match"), s.etag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	coding := shell.Coding(r.Header.Values("Accept-Encoding"))
	body := s.body(coding)
	if coding != "" {
		h.Set("Content-Encoding", coding)
	}
	h.Set("Content-Type", s.kind)
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(http.StatusOK)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body) // a reader who has gone cannot be answered
	}
}
