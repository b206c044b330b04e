package office

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/fault"
)

// letter is one that fakeMail was given.
type letter struct {
	to            account.Address
	subject, text string
}

// fakeMail is a mail server that is there unless away says why not.
type fakeMail struct {
	away, refuse error
	letters      []letter
}

func (f *fakeMail) Ready(context.Context) error { return f.away }

func (f *fakeMail) Send(_ context.Context, to account.Address, subject, text string) error {
	if f.refuse != nil {
		return f.refuse
	}
	f.letters = append(f.letters, letter{to, subject, text})
	return nil
}

// fakeMailbox keeps addresses and links by mail.
type fakeMailbox struct {
	calls
	addresses map[account.ID]account.Address
	resets    map[account.Link]account.ID
	logins    map[string]account.ID
	asked     []string
}

func newFakeMailbox() *fakeMailbox {
	f := &fakeMailbox{addresses: map[account.ID]account.Address{}, resets: map[account.Link]account.ID{}, logins: map[string]account.ID{}}
	for _, r := range account.Roles {
		f.logins[staffOf(r).Login] = staffOf(r).ID
	}
	return f
}

func (f *fakeMailbox) Address(_ context.Context, who account.ID) (account.Address, error) {
	f.hit()
	return f.addresses[who], nil
}

func (f *fakeMailbox) SetAddress(_ context.Context, who account.ID, a account.Address, _ time.Time) (account.Address, error) {
	f.hit()
	before := f.addresses[who]
	f.addresses[who] = a
	return before, nil
}

func (f *fakeMailbox) AskReset(_ context.Context, login string, l account.Link, _, _ time.Time) (account.Address, error) {
	f.hit()
	f.asked = append(f.asked, login)
	a := f.addresses[f.logins[login]]
	if a == "" {
		return "", fault.ErrNotFound
	}
	clear(f.resets)
	f.resets[l] = f.logins[login]
	return a, nil
}

func (f *fakeMailbox) ResetFor(_ context.Context, l account.Link, _ time.Time) (account.Staff, error) {
	f.hit()
	id, ok := f.resets[l]
	if !ok {
		return account.Staff{}, fault.ErrNotFound
	}
	for _, r := range account.Roles {
		if staffOf(r).ID == id {
			return staffOf(r), nil
		}
	}
	return account.Staff{}, fault.ErrNotFound
}

func (f *fakeMailbox) Reset(_ context.Context, l account.Link, hash string, _, _ time.Time) error {
	f.hit()
	if _, ok := f.resets[l]; !ok {
		return fault.ErrNotFound
	}
	delete(f.resets, l)
	return nil
}

// mailing gives the world a mail server, and a log to look at.
func (w *world) mailing() (*fakeMail, *bytes.Buffer) {
	m, log := &fakeMail{}, &bytes.Buffer{}
	w.office.Mail = m
	w.office.later = func(do func(context.Context)) { do(context.Background()) }
	w.office.Log = slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	return m, log
}

func TestWithoutMailACoordinatorHelps(t *testing.T) {
	w := newWorld(t)
	require.Equal(t, "/office/forgot", w.get(t, "", "/office/sign-in").attr(`a[href="/office/forgot"]`, "href"))
	for _, got := range []answer{w.get(t, "", "/office/forgot"), w.get(t, "", "/office/forgot?sent"), w.post(t, "", "/office/forgot", "login", "technician")} {
		require.Equal(t, http.StatusOK, got.status)
		require.Contains(t, got.text("main"), "This server sends no mail. Ask your coordinator")
		require.Zero(t, got.Find("main form").Length())
	}
	require.Zero(t, w.mailbox.touched())
	require.Zero(t, w.get(t, boss, "/office/me").Find("#address").Length(), "no address is asked for")
	require.Zero(t, w.get(t, boss, personPath(staffOf(clerk).ID)).Find("#address").Length())
	w.post(t, boss, personPath(staffOf(clerk).ID), "do", "address", "address", "robin@office.example")
	w.post(t, clerk, "/office/me", "do", "address", "sure", "right", "address", "robin@office.example")
	require.Empty(t, w.mailbox.addresses, "and none is kept")
	w.mailbox.resets[account.Link{5}] = staffOf(clerk).ID
	require.Equal(t, http.StatusNotFound, w.get(t, "", "/office/reset/"+account.Link{5}.String()).status)
}

var inLetter = regexp.MustCompile(`https://scn\.example\.org/office/reset/(\S+)`)

func TestALinkByMail(t *testing.T) {
	w := newWorld(t)
	w.patient()
	mail, log := w.mailing()
	id := staffOf(clerk).ID
	w.mailbox.addresses[id] = "robin@office.example"
	w.staff.second[id] = account.Second{On: true, Seed: account.Seed{5}}

	// Known, unknown, without an address, impossible: one answer.
	var bodies []string
	for _, login := range []string{"clerk", "nobody", "technician", "No such login!", " CLERK "} {
		got := w.post(t, "", "/office/forgot", "login", login)
		require.Equal(t, http.StatusSeeOther, got.status, login)
		require.Equal(t, "/office/forgot?sent", got.header.Get("Location"))
		bodies = append(bodies, got.body+w.get(t, "", "/office/forgot?sent").body)
		require.Equal(t, bodies[0], bodies[len(bodies)-1])
	}
	require.Equal(t, []string{"clerk", "nobody", "technician", "clerk"}, w.mailbox.asked, "only what can be a login is looked up")
	require.Len(t, mail.letters, 2)
	first, second := mail.letters[0], mail.letters[1]
	require.Equal(t, account.Address("robin@office.example"), second.to)
	require.Equal(t, "Sixmile: a link to a new password", second.subject)
	require.Contains(t, second.text, "within 30 minutes")
	old, link := inLetter.FindStringSubmatch(first.text)[1], inLetter.FindStringSubmatch(second.text)[1]
	require.Equal(t, http.StatusNotFound, w.get(t, "", "/office/reset/"+old).status, "the newest only")

	path := "/office/reset/" + link
	for range 2 { // a program that looks at links uses none up
		page := w.get(t, "", path)
		require.Equal(t, http.StatusOK, page.status)
		require.Equal(t, "no-store", page.header.Get("Cache-Control"))
		require.Contains(t, page.text("main"), "For the login name “clerk”.")
	}
	short := w.post(t, "", path, "password", "short", "again", "short")
	require.Equal(t, http.StatusUnprocessableEntity, short.status)
	require.Equal(t, "#password", short.attr(".problems a", "href"))
	got := w.post(t, "", path, "password", "six miles square", "again", "six miles square")
	require.Equal(t, "/office/sign-in?set", got.header.Get("Location"))
	require.Empty(t, got.header.Get("Set-Cookie"), "nobody is signed in by it")
	require.True(t, w.staff.second[id].On, "the second step stays")
	require.Equal(t, http.StatusNotFound, w.post(t, "", path, "password", "six miles square", "again", "six miles square").status)
	require.Equal(t, http.StatusNotFound, w.get(t, "", path).status, "once")

	require.Len(t, mail.letters, 3)
	require.Equal(t, "Sixmile: your password was changed", mail.letters[2].subject)
	require.NotContains(t, mail.letters[2].text, "six miles square")
	for _, secret := range []string{link, old, "robin@office.example", "clerk"} {
		require.NotContains(t, log.String(), secret)
	}
}

// A mail server that is away says so to everybody alike, and nothing of itself; one
// that refuses a letter is the log's business, without the address.
func TestMailIsAway(t *testing.T) {
	w := newWorld(t)
	w.patient()
	mail, log := w.mailing()
	w.mailbox.addresses[staffOf(clerk).ID] = "robin@office.example"
	mail.away = errors.New("mailer: away")
	var bodies []string
	for _, login := range []string{"clerk", "nobody"} {
		got := w.post(t, "", "/office/forgot", "login", login)
		require.Equal(t, http.StatusServiceUnavailable, got.status)
		require.NotEmpty(t, got.header.Get("Retry-After"))
		require.Equal(t, "Mail cannot be sent just now. Try again in a few minutes, or ask your coordinator for a link.", got.text(".problems"))
		require.NotContains(t, got.body, "mailer")
		require.Equal(t, login, got.attr("#login", "value"), "what was typed is kept")
		bodies = append(bodies, strings.ReplaceAll(got.body, `value="`+login+`"`, ""))
	}
	require.Equal(t, bodies[0], bodies[1])
	require.Zero(t, w.mailbox.touched())
	mail.away, mail.refuse = nil, errors.New("mailer: refused")
	require.Equal(t, "/office/forgot?sent", w.post(t, "", "/office/forgot", "login", "clerk").header.Get("Location"))
	require.Contains(t, log.String(), "a letter was not sent")
	require.NotContains(t, log.String(), "robin")
	empty := w.post(t, "", "/office/forgot", "login", " ")
	require.Equal(t, http.StatusUnprocessableEntity, empty.status)
	require.Equal(t, "#login", empty.attr(".problems a", "href"))
}

// Asking is slowed by name, whether or not anybody has it, and never locked.
func TestAskingForLinksIsSlowed(t *testing.T) {
	for _, login := range []string{"clerk", "nobody"} {
		w := newWorld(t)
		at := noon
		w.office.now = func() time.Time { return at }
		w.office.sleep = func(context.Context, time.Duration) error { return nil }
		w.mailing()
		taken := 0
		last := answer{}
		for range 24 {
			if last = w.post(t, "", "/office/forgot", "login", login); last.status == http.StatusSeeOther {
				taken++
			}
		}
		require.Equal(t, 6, taken, login)
		require.Equal(t, http.StatusTooManyRequests, last.status)
		require.Contains(t, last.text(".problems"), "several times just now")
		at = at.Add(time.Hour)
		require.Equal(t, http.StatusSeeOther, w.post(t, "", "/office/forgot", "login", login).status)
	}
}

func TestAnAddressIsItsOwnersAndCoordinators(t *testing.T) {
	w := newWorld(t)
	w.patient()
	mail, _ := w.mailing()
	id := staffOf(clerk).ID
	for _, evil := range []string{"robin", "robin@office.example\r\nBcc: x@other.example", "a@b.example, c@d.example", `"><b>@x.example`} {
		got := w.post(t, clerk, "/office/me", "do", "address", "sure", "right", "address", evil)
		require.Equal(t, http.StatusUnprocessableEntity, got.status, "%q", evil)
		require.Equal(t, "#address", got.attr(".problems a", "href"))
		require.Equal(t, http.StatusUnprocessableEntity, w.post(t, boss, personPath(id), "do", "address", "address", evil).status)
	}
	wrong := w.post(t, clerk, "/office/me", "do", "address", "sure", "guess", "address", "robin@office.example")
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status, "a browser left alone must not lead the mail elsewhere")
	require.Equal(t, "robin@office.example", wrong.attr("#address", "value"))
	require.Empty(t, w.mailbox.addresses)

	got := w.post(t, clerk, "/office/me", "do", "address", "sure", "right", "address", " robin@Office.example ")
	require.Equal(t, "/office/me?done=address", got.header.Get("Location"))
	require.Equal(t, "robin@office.example", w.get(t, clerk, "/office/me").attr("#address", "value"))
	require.Equal(t, "robin@office.example", w.get(t, boss, personPath(id)).attr("#address", "value"))
	require.NotContains(t, w.get(t, boss, "/office/people").body, "robin@office.example", "nor in the list")
	require.Equal(t, http.StatusForbidden, w.get(t, account.Technician, personPath(id)).status)
	require.NotContains(t, w.get(t, account.Technician, "/office/me").body, "robin@office.example")
	require.Empty(t, mail.letters)

	got = w.post(t, boss, personPath(id), "do", "address", "address", "")
	require.Equal(t, personPath(id)+"?done=address", got.header.Get("Location"))
	require.Len(t, mail.letters, 1)
	require.Equal(t, account.Address("robin@office.example"), mail.letters[0].to, "the address before is told")
}

// However a password is changed, its owner gets a note.
func TestANoteOfANewPassword(t *testing.T) {
	w := newWorld(t)
	w.patient()
	mail, _ := w.mailing()
	w.mailbox.addresses[staffOf(clerk).ID] = "robin@office.example"
	w.mailbox.addresses[account.ID{7}] = "desk@office.example"
	w.post(t, clerk, "/office/me", "do", "password", "current", "wrong", "password", "six miles square", "again", "six miles square")
	require.Empty(t, mail.letters)
	w.post(t, clerk, "/office/me", "do", "password", "current", "right", "password", "six miles square", "again", "six miles square")
	w.post(t, "", "/office/welcome/"+account.Link{7}.String(), "password", "six miles square", "again", "six miles square")
	w.post(t, account.Technician, "/office/me", "do", "password", "current", "right", "password", "six miles square", "again", "six miles square")
	require.Len(t, mail.letters, 2, "who has no address gets none")
	require.Equal(t, account.Address("robin@office.example"), mail.letters[0].to)
	require.Equal(t, account.Address("desk@office.example"), mail.letters[1].to)
	require.Contains(t, mail.letters[0].text, "the login name clerk at Sixmile was set anew on December 1, 2026")
}

// Letters that cannot be begun are dropped without a word to anybody.
func TestLettersAreBounded(t *testing.T) {
	w := newWorld(t)
	_, log := w.mailing()
	hold, begun := make(chan struct{}), make(chan struct{}, mostLetters)
	for range mostLetters {
		w.office.aside(func(context.Context) { begun <- struct{}{}; <-hold })
	}
	for range mostLetters {
		<-begun
	}
	w.office.aside(func(context.Context) { t.Error("one too many") })
	require.Contains(t, log.String(), "not keeping up")
	close(hold)
}
