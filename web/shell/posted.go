package shell

import (
	"errors"
	"io"
	"net/http"
	"net/url"
)

// ErrCutShort: a form did not come whole. Its sender left, or was too slow.
var ErrCutShort = errors.New("the form did not come whole")

// Posted reads a form's own values, never those of the address. Pairs that cannot
// be read are left out, as if they had not been sent. A form that is too large is an
// error, and so is one that was cut short, which would otherwise be an empty one.
func Posted(r *http.Request) (url.Values, error) {
	body := &heard{}
	if r.Body != nil {
		body.ReadCloser = r.Body
		r.Body = body
	}
	_ = r.ParseForm() // what is wrong with pairs
	var tooLarge *http.MaxBytesError
	switch {
	case body.err == nil:
		return r.PostForm, nil
	case errors.As(body.err, &tooLarge):
		return nil, body.err
	}
	return nil, ErrCutShort // and not why: a connection's error names who sent
}

// heard notes how the reading of a body ended.
type heard struct {
	io.ReadCloser
	err error // nil where it came to its end
}

func (h *heard) Read(p []byte) (int, error) {
	n, err := h.ReadCloser.Read(p)
	if err != nil && err != io.EOF {
		h.err = err
	}
	return n, err
}
