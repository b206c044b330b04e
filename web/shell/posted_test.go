package shell

import (
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"
)

func TestPosted(t *testing.T) {
	post := func(body io.Reader) (url.Values, error) {
		r := httptest.NewRequest("POST", "/x?a=address", body)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Body = http.MaxBytesReader(httptest.NewRecorder(), r.Body, 100)
		form, err := Posted(r)
		if err == nil {
			again, err := Posted(r)
			require.NoError(t, err)
			require.Equal(t, form, again)
		}
		return form, err
	}
	form, err := post(strings.NewReader("a=1&b=%zz&c=2;&d=3&a=4"))
	require.NoError(t, err)
	require.Equal(t, url.Values{"a": {"1", "4"}, "d": {"3"}}, form, "what cannot be read was not sent")
	form, err = post(strings.NewReader(""))
	require.NoError(t, err)
	require.Empty(t, form)

	_, err = post(io.MultiReader(strings.NewReader("a=1&"), iotest.ErrReader(errors.New("read tcp 192.0.2.7:4711"))))
	require.ErrorIs(t, err, ErrCutShort)
	require.NotContains(t, err.Error(), "192.0.2.7", "who sent it")
	_, err = post(strings.NewReader(strings.Repeat("a", 101)))
	var tooLarge *http.MaxBytesError
	require.ErrorAs(t, err, &tooLarge)

	r, err := http.NewRequest("POST", "/x", nil) // without a body at all
	require.NoError(t, err)
	form, err = Posted(r)
	require.NoError(t, err)
	require.Empty(t, form)
}
