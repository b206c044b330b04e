package open

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"
	"strings"

	"github.com/andybalholm/brotli"

	"sixmile/internal/gazette"
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

// send answers with the sheet, or with 304 where the reader has it.
func (s *sheet) send(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("ETag", s.etag)
	h.Set("Cache-Control", "no-cache") // may be kept, and is asked about each time
	h.Add("Vary", "Accept-Encoding")
	if holds(r.Header.Values("If-None-Match"), s.etag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	body := s.plain
	if coding := accepted(r.Header.Values("Accept-Encoding")); coding != "" {
		body = s.packed[coding]
		h.Set("Content-Encoding", coding)
	}
	h.Set("Content-Type", s.kind)
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(http.StatusOK)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body) // a reader who has gone cannot be answered
	}
}

// holds tells whether a list of tags has this one, by the weak comparison of
// RFC 9110, section 8.8.3.2.
func holds(lists []string, etag string) bool {
	want := strings.TrimPrefix(etag, "W/")
	for _, list := range lists {
		for tag := range strings.SplitSeq(list, ",") {
			tag = strings.TrimSpace(tag)
			if tag == "*" || strings.TrimPrefix(tag, "W/") == want {
				return true
			}
		}
	}
	return false
}

// accepted is the best of our codings that a reader takes (RFC 9110, section
// 12.5.3), "" for none.
func accepted(lists []string) string {
	best := ""
	for _, list := range lists {
		for entry := range strings.SplitSeq(list, ",") {
			coding, weight, _ := strings.Cut(entry, ";")
			if _, q, ok := strings.Cut(weight, "="); ok {
				if n, err := strconv.ParseFloat(strings.TrimSpace(q), 64); err != nil || n <= 0 {
					continue
				}
			}
			switch strings.ToLower(strings.TrimSpace(coding)) {
			case "br":
				return "br"
			case "gzip":
				best = "gzip"
			}
		}
	}
	return best
}
