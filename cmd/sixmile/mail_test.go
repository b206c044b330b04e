package main

import (
	"context"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/mailer/mailtest"
)

func TestMailTest(t *testing.T) {
	s, err := mailtest.Start(mailtest.Options{})
	require.NoError(t, err)
	defer s.Close()
	there := []string{"--mail-host=127.0.0.1", "--mail-port=" + strconv.Itoa(s.Port()), "--mail-from=office@soil.example", "--mail-tls=none"}
	code, out, errs := try(t, "", append([]string{"mail", "test", "desk@office.example"}, there...)...)
	require.Zero(t, code, errs)
	require.Contains(t, out, "has taken the letter")
	require.Len(t, s.Letters(), 1)
	require.Equal(t, "desk@office.example", s.Letters()[0].To)
	for name, c := range map[string]struct {
		args []string
		say  string
	}{
		"nowhere":       {append([]string{"mail", "test", "desk"}, there...), "one plain address"},
		"no server":     {[]string{"mail", "test", "desk@office.example"}, "SIXMILE_MAIL_HOST"},
		"bare, outside": {[]string{"mail", "test", "desk@office.example", "--mail-host=mail.example", "--mail-from=office@soil.example", "--mail-tls=none"}, "this machine itself"},
		"no STARTTLS":   {append([]string{"mail", "test", "desk@office.example"}, append(there[:3:3], "--mail-tls=starttls")...), "does not support STARTTLS"},
	} {
		code, _, errs := try(t, "", c.args...)
		require.Equal(t, 1, code, name)
		require.Contains(t, errs, c.say, name)
	}
	require.Len(t, s.Letters(), 1)
}

// A forgotten password from the page to the next sign-in, with a server of each
// kind: the link is in the letter and in no log; without mail the address is gone.
func TestAForgottenPassword(t *testing.T) {
	post, err := mailtest.Start(mailtest.Options{})
	require.NoError(t, err)
	defer post.Close()
	data := "--data=" + folder(t)
	for _, args := range [][]string{{"found", data, "--name=Soil Watch", "--state=Nowhere"}, {"staff", "add", data, "robin", "--name=Robin", "--role=coordinator"}} {
		code, _, errs := try(t, "a long enough phrase\n", args...)
		require.Zero(t, code, errs)
	}
	mail := []string{"--base-url=https://soil.example", "--mail-host=127.0.0.1", "--mail-port=" + strconv.Itoa(post.Port()), "--mail-from=office@soil.example", "--mail-tls=none"}
	code, _, errs := try(t, "", append([]string{"serve", data, "--listen=127.0.0.1:0"}, mail[1:]...)...)
	require.Equal(t, 1, code)
	require.Contains(t, errs, "mail needs --base-url")

	base, log, stop := serving(t, append([]string{"serve", data, "--listen=127.0.0.1:0", "-v"}, mail...)...)
	send := func(c *http.Client, path string, pairs ...string) *http.Response {
		form := url.Values{}
		for i := 0; i < len(pairs); i += 2 {
			form.Set(pairs[i], pairs[i+1])
		}
		res, err := c.PostForm(base+path, form)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res
	}
	browser := func() *http.Client {
		jar, err := cookiejar.New(nil)
		require.NoError(t, err)
		return &http.Client{Jar: plainJar{jar}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	}
	owner, stranger := browser(), browser()
	require.Equal(t, "/office", send(owner, "/office/sign-in", "login", "robin", "password", "a long enough phrase").Header.Get("Location"))
	require.Equal(t, "/office/me?done=address", send(owner, "/office/me", "do", "address", "sure", "a long enough phrase", "address", "robin@office.example").Header.Get("Location"))
	for _, login := range []string{"nobody", "robin"} {
		require.Equal(t, "/office/forgot?sent", send(stranger, "/office/forgot", "login", login).Header.Get("Location"))
	}
	require.Eventually(t, func() bool { return len(post.Letters()) == 1 }, 20*time.Second, 20*time.Millisecond)
	found := regexp.MustCompile(`https://soil\.example(/office/reset/([A-Za-z0-9_-]{22}))`).FindStringSubmatch(strings.ReplaceAll(post.Letters()[0].Text, "=\r\n", ""))
	require.NotNil(t, found, post.Letters()[0].Text)
	require.Equal(t, "/office/sign-in?set", send(stranger, found[1], "password", "another long phrase", "again", "another long phrase").Header.Get("Location"))
	require.Equal(t, http.StatusNotFound, send(stranger, found[1], "password", "a third long phrase", "again", "a third long phrase").StatusCode)
	require.Eventually(t, func() bool { return len(post.Letters()) == 2 }, 20*time.Second, 20*time.Millisecond)
	require.Contains(t, post.Letters()[1].Text, "password was changed")
	require.Equal(t, "/office/sign-in", strings.Split(send(owner, "/office/me", "do", "others").Header.Get("Location"), "?")[0], "every session has ended")
	require.Equal(t, "/office", send(owner, "/office/sign-in", "login", "robin", "password", "another long phrase").Header.Get("Location"))
	stop()
	require.Contains(t, log.String(), "/office/reset/{link}")
	for _, secret := range []string{found[2], "robin@office.example", "another long phrase", "robin"} {
		require.NotContains(t, log.String(), secret)
	}

	_, log, stop = serving(t, "serve", data, "--listen=127.0.0.1:0")
	stop()
	require.Contains(t, log.String(), "addresses of staff are forgotten")
}

// plainJar lets cookies that want https pass on loopback, as a proxy in front would.
type plainJar struct{ *cookiejar.Jar }

func (j plainJar) SetCookies(u *url.URL, list []*http.Cookie) {
	for _, c := range list {
		c.Secure = false
	}
	j.Jar.SetCookies(u, list)
}

// serving runs a server until stop, which waits for its end.
func serving(t *testing.T, args ...string) (base string, log *lockedBuffer, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out, log := &lockedBuffer{}, &lockedBuffer{}
	done := make(chan int, 1)
	go func() { done <- run(ctx, args, console{out, log, strings.NewReader("")}) }()
	base = out.word(t, "Serving on")
	return base, log, func() {
		cancel()
		require.Zero(t, <-done)
	}
}
