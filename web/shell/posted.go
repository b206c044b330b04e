package shell

import (
	"errors"
	"net/http"
	"net/url"
)

// Posted reads a form's own values, never those of the address. Pairs that cannot
// be read are left out, as if they had not been sent; only a form that is too large
// is an error.
func Posted(r *http.Request) (url.Values, error) {
	err := r.ParseForm()
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return nil, err
	}
	return r.PostForm, nil
}
