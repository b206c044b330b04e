package open

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"runtime"
	"strconv"
	"sync"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"
	"golang.org/x/sync/singleflight"

	"sixmile/internal/gazette"
	"sixmile/internal/press"
	"sixmile/web/shell"
)

const (
	// keptFiles bounds the pictures and documents kept in memory, and largestKept
	// the size of each.
	keptFiles   = 48
	largestKept = 2 << 20
	// keptEditions bounds the earlier editions kept in memory.
	keptEditions = 4
	// mostWaiting is how many may wait for the press; who comes then is told to
	// come again, and so is who has waited pressPatience.
	mostWaiting   = 12
	pressPatience = 20 * time.Second
	// comeAgain is when, in seconds.
	comeAgain = 10
)

// pressroom makes pictures and documents, a few at a time, and keeps some.
type pressroom struct {
	limit    *press.Limit
	line     chan struct{} // those who are waiting or being served
	patience time.Duration
	flight   singleflight.Group
	files    *lru.Cache[string, *sheet]
	editions *lru.Cache[string, *reading]
}

func newPressroom() *pressroom {
	files, err := lru.New[string, *sheet](keptFiles)
	editions, err2 := lru.New[string, *reading](keptEditions)
	if err := errors.Join(err, err2); err != nil {
		panic(err) // only for a size under one
	}
	at := runtime.GOMAXPROCS(0)
	return &pressroom{limit: press.NewLimit(at), line: make(chan struct{}, at+mostWaiting), patience: pressPatience,
		files: files, editions: editions}
}

// file finds what was made under a name, or makes it once for all who ask. It is
// press.ErrBusy where too many are waiting.
func (p *pressroom) file(ctx context.Context, name string, do func() (*sheet, error)) (*sheet, error) {
	if s, ok := p.files.Get(name); ok {
		return s, nil
	}
	v, err, _ := p.flight.Do(name, func() (any, error) {
		select {
		case p.line <- struct{}{}:
		default:
			return nil, fmt.Errorf("the line is full: %w", press.ErrBusy)
		}
		defer func() { <-p.line }()
		// It goes on when the one who asked first has left.
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), p.patience)
		defer cancel()
		var s *sheet
		err := p.limit.Do(ctx, func() (err error) {
			s, err = do()
			return err
		})
		if err == nil && len(s.plain) <= largestKept {
			p.files.Add(name, s)
		}
		return s, err
	})
	if err != nil {
		return nil, err
	}
	return v.(*sheet), nil
}

// edition is a reading of an edition, which may be an earlier one.
func (p *pressroom) edition(ctx context.Context, store Editions, now *reading, code string) (*reading, error) {
	if code == now.issue.Edition.Code {
		return now, nil
	}
	no := 0
	for _, e := range now.index.Editions() {
		if e.Code == code {
			no = e.Number
		}
	}
	key := fmt.Sprintf("%d %d", now.gen, no)
	if r, ok := p.editions.Get(key); ok {
		return r, nil
	}
	v, err, _ := p.flight.Do("edition "+key, func() (any, error) {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), askFor)
		defer cancel()
		r := *now
		var err error
		if r.issue, err = store.Issue(ctx, no); err != nil {
			return nil, fmt.Errorf("edition %d: %w", no, err)
		}
		if r.index, err = gazette.NewIndex(r.issue); err != nil {
			return nil, fmt.Errorf("edition %d: %w", no, err)
		}
		p.editions.Add(key, &r)
		return &r, nil
	})
	if err != nil {
		return nil, err
	}
	return v.(*reading), nil
}

// newFile is a picture or a document as it goes out. It is packed already.
func newFile(kind string, e gazette.Edition, body []byte) *sheet {
	sum := sha256.Sum256(body)
	code := e.Code
	if code == "" {
		code = "0"
	}
	return &sheet{kind: kind, etag: `"` + code + "-" + hex.EncodeToString(sum[:8]) + `"`, plain: body}
}

// sendFile answers with a file to keep, under a name, or with 304.
func (s *sheet) sendFile(w http.ResponseWriter, r *http.Request, name string) {
	h := w.Header()
	h.Set("ETag", s.etag)
	h.Set("Cache-Control", "no-cache") // may be kept, and is asked about each time: an edition can be withdrawn
	if shell.Holds(r.Header.Values("If-None-Match"), s.etag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Type", s.kind)
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	h.Set("Content-Length", strconv.Itoa(len(s.plain)))
	w.WriteHeader(http.StatusOK)
	if r.Method != http.MethodHead {
		_, _ = w.Write(s.plain) // a reader who has gone cannot be answered
	}
}

// buffers are reused: pictures and documents are large.
var buffers = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// written collects what f writes.
func written(f func(*bytes.Buffer) error) ([]byte, error) {
	b := buffers.Get().(*bytes.Buffer)
	b.Reset()
	defer buffers.Put(b)
	if err := f(b); err != nil {
		return nil, err
	}
	return bytes.Clone(b.Bytes()), nil
}
