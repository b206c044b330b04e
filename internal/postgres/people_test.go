package postgres_test

import (
	"context"
	"crypto/rand"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
)

var day = date(2024, time.November, 4)

// boss is a coordinator with a password, and the people store as that person.
func (o *office) boss() (*postgres.People, context.Context) {
	o.t.Helper()
	p := postgres.NewPeople(o.staff)
	require.NoError(o.t, p.Add(ctxOf(o.t), account.Staff{Login: "boss", Name: "Boss", Role: account.Coordinator}, "hash"))
	id, _, err := p.Password(ctxOf(o.t), "boss")
	require.NoError(o.t, err)
	return p, account.As(ctxOf(o.t), id)
}

func link(t *testing.T) account.Link {
	t.Helper()
	l, err := account.NewLink(rand.Reader)
	require.NoError(t, err)
	return l
}

func token(t *testing.T) account.Token {
	t.Helper()
	k, err := account.NewToken(rand.Reader)
	require.NoError(t, err)
	return k
}

func TestInvitedPeopleSetTheirPasswordOnce(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	l := link(t)
	clerk := account.Staff{Login: "clerk", Name: "Robin", Role: account.Clerk, Counties: []place.ID{o.counties[0].ID}}
	id, err := p.Invite(ctx, clerk, l, day, day.AddDate(0, 0, 14))
	require.NoError(t, err)
	_, err = p.Invite(ctx, clerk, link(t), day, day)
	require.ErrorIs(t, err, fault.ErrConflict)

	_, stored, err := p.Password(ctx, "clerk")
	require.NoError(t, err)
	require.Empty(t, stored, "no password yet: nobody can sign in")
	who, err := p.Invited(ctx, l, day.AddDate(0, 0, 14))
	require.NoError(t, err)
	require.Equal(t, "clerk", who.Login)
	_, err = p.Invited(ctx, l, day.AddDate(0, 0, 15))
	require.ErrorIs(t, err, fault.ErrNotFound, "its days are over")
	require.ErrorIs(t, p.Join(ctx, l, "new", day.AddDate(0, 0, 15)), fault.ErrNotFound)

	newer := link(t)
	require.NoError(t, p.GiveLink(ctx, id, newer, day, day.AddDate(0, 0, 3)))
	require.ErrorIs(t, p.Join(ctx, l, "new", day), fault.ErrNotFound, "a newer link took its place")
	var won, lost int
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			err := p.Join(ctx, newer, "new", day)
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				won++
			} else if errors.Is(err, fault.ErrNotFound) {
				lost++
			}
		})
	}
	wg.Wait()
	require.Equal(t, [2]int{1, 3}, [2]int{won, lost}, "a link opens once")
	_, stored, err = p.Password(ctx, "clerk")
	require.NoError(t, err)
	require.Equal(t, "new", stored)
	require.Zero(t, o.count(`SELECT count(*) FROM priv.link`))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.link WHERE hash = $1`, l[:]), "the link itself is nowhere")
}

func TestAResetEndsSessionsAndTheSecondStep(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	id, _, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	seed, err := account.NewSeed(rand.Reader)
	require.NoError(t, err)
	codes, err := account.NewRecoveries(rand.Reader)
	require.NoError(t, err)
	require.NoError(t, p.SetSecond(ctx, id, seed, 100, codes, day))
	s, err := p.Second(ctx, id)
	require.NoError(t, err)
	require.Equal(t, account.Second{On: true, Seed: seed, Last: 100, Codes: 10}, s)

	require.ErrorIs(t, p.UseStep(ctx, id, 100), fault.ErrConflict)
	require.NoError(t, p.UseStep(ctx, id, 101))
	require.ErrorIs(t, p.UseStep(ctx, id, 101), fault.ErrConflict, "a code opens once")
	require.NoError(t, p.UseRecovery(ctx, id, codes[3], day))
	require.ErrorIs(t, p.UseRecovery(ctx, id, codes[3], day), fault.ErrNotFound)
	require.ErrorIs(t, p.UseRecovery(ctx, account.ID{1}, codes[4], day), fault.ErrNotFound, "another person's")
	s, err = p.Second(ctx, id)
	require.NoError(t, err)
	require.Equal(t, 9, s.Codes)

	k := token(t)
	require.NoError(t, p.SignIn(ctx, id, k, false, day))
	l := link(t)
	require.NoError(t, p.GiveLink(ctx, id, l, day, day))
	require.NoError(t, p.Join(ctx, l, "new", day))
	_, err = p.Session(ctx, k, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	s, err = p.Second(ctx, id)
	require.NoError(t, err)
	require.Equal(t, account.Second{}, s)
}

func TestHalfASessionOpensNothing(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	id, _, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	k := token(t)
	require.NoError(t, p.SignIn(ctx, id, k, true, day))
	_, err = p.Session(ctx, k, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	_, _, err = p.Half(ctx, k, day.AddDate(0, 0, 1))
	require.ErrorIs(t, err, fault.ErrNotFound, "another day")
	for range 5 {
		who, login, err := p.Half(ctx, k, day)
		require.NoError(t, err)
		require.Equal(t, id, who)
		require.Equal(t, "boss", login)
	}
	_, _, err = p.Half(ctx, k, day)
	require.ErrorIs(t, err, fault.ErrNotFound, "five tries a password")
	whole := token(t)
	require.NoError(t, p.SignIn(ctx, id, whole, false, day))
	_, _, err = p.Half(ctx, whole, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	list, err := p.Sessions(ctx, id, whole, day)
	require.NoError(t, err)
	require.Len(t, list, 1, "a half one is not listed")
	require.True(t, list[0].Current)
}

func TestSessionsAreListedAndEnded(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	id, _, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	k := []account.Token{token(t), token(t), token(t)}
	for i, one := range k {
		require.NoError(t, p.SignIn(ctx, id, one, false, day.AddDate(0, 0, i)))
	}
	list, err := p.Sessions(ctx, id, k[1], day.AddDate(0, 0, 2))
	require.NoError(t, err)
	require.Len(t, list, 3)
	require.True(t, list[0].Current, "the own one first")
	require.Equal(t, day.AddDate(0, 0, 2), list[1].Created)
	require.NoError(t, p.EndSession(ctx, account.ID{9}, list[1].ID), "somebody else's: nothing ends")
	_, err = p.Session(ctx, k[2], day)
	require.NoError(t, err)
	require.NoError(t, p.EndSession(ctx, id, list[1].ID))
	_, err = p.Session(ctx, k[2], day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.NoError(t, p.EndOthers(ctx, id, k[1]))
	_, err = p.Session(ctx, k[0], day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.NoError(t, p.SetPassword(ctx, id, "another", k[1], day))
	_, err = p.Session(ctx, k[1], day.AddDate(0, 0, 1))
	require.NoError(t, err)
	require.NoError(t, p.EndSessions(ctx, id, day))
	_, err = p.Session(ctx, k[1], day)
	require.ErrorIs(t, err, fault.ErrNotFound)
}

func TestThereIsAlwaysACoordinator(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	id, _, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	require.ErrorIs(t, p.SetActive(ctx, id, false, day), account.ErrLastCoordinator)
	require.ErrorIs(t, p.Assign(ctx, account.Staff{ID: id, Name: "B", Role: account.Technician}, day), account.ErrLastCoordinator)
	got, err := p.Person(ctx, id, day)
	require.NoError(t, err)
	require.True(t, got.Active)
	require.Equal(t, account.Coordinator, got.Role)

	// An invited one who never came is none.
	_, err = p.Invite(ctx, account.Staff{Login: "second", Name: "Second", Role: account.Coordinator}, link(t), day, day)
	require.NoError(t, err)
	require.ErrorIs(t, p.SetActive(ctx, id, false, day), account.ErrLastCoordinator)

	// Two coordinators who close each other at the same moment: one stays.
	require.NoError(t, p.Add(ctx, account.Staff{Login: "third", Name: "Third", Role: account.Coordinator}, "hash"))
	third, _, err := p.Password(ctx, "third")
	require.NoError(t, err)
	var wg sync.WaitGroup
	errs := make([]error, 2)
	for i, who := range []account.ID{id, third} {
		wg.Go(func() { errs[i] = p.SetActive(ctx, who, false, day) })
	}
	wg.Wait()
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.staff WHERE role = 'coordinator' AND active AND hash <> ''`))
	require.True(t, errs[0] == nil != (errs[1] == nil), "%v", errs)
}

func TestPeopleAreChangedAndClosed(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	a, b := o.counties[0].ID, o.counties[1].ID
	id, err := p.Invite(ctx, account.Staff{Login: "ed", Name: "Ed", Role: account.Educator, Counties: []place.ID{a, b}}, link(t), day, day)
	require.NoError(t, err)
	require.NoError(t, p.Assign(ctx, account.Staff{ID: id, Name: "Edda", Role: account.Clerk, Counties: []place.ID{b}}, day))
	got, err := p.Person(ctx, id, day)
	require.NoError(t, err)
	require.Equal(t, account.Person{Staff: account.Staff{ID: id, Login: "ed", Name: "Edda", Role: account.Clerk, Counties: []place.ID{b}},
		Active: true, Link: &day}, got)
	require.NoError(t, p.SetActive(ctx, id, false, day))
	require.ErrorIs(t, p.GiveLink(ctx, id, link(t), day, day), fault.ErrNotFound, "closed")
	list, err := p.List(ctx, day)
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.False(t, list[1].Active)
	require.Nil(t, list[1].Link, "a closed account's link opens nothing")
	_, err = p.Person(ctx, account.ID{5}, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.ErrorIs(t, p.SetActive(ctx, account.ID{5}, true, day), fault.ErrNotFound)

	k := token(t)
	boss, _, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	require.NoError(t, p.SignIn(ctx, boss, k, false, day))
	require.NoError(t, p.Require(ctx, true, day))
	who, err := p.Session(ctx, k, day)
	require.NoError(t, err)
	require.True(t, who.Owes)
	require.NoError(t, p.SetSecond(ctx, boss, account.Seed{1}, 1, nil, day))
	who, err = p.Session(ctx, k, day)
	require.NoError(t, err)
	require.False(t, who.Owes)
}
