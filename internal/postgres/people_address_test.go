package postgres_test

import (
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

func TestALinkByMailSetsAPasswordOnceAndKeepsTheSecondStep(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	id, _, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	now := time.Date(2024, 11, 4, 9, 30, 0, 0, time.UTC)

	l := link(t)
	_, err = p.AskReset(ctx, "boss", l, now, day)
	require.ErrorIs(t, err, fault.ErrNotFound, "no address is kept")
	before, err := p.SetAddress(ctx, id, "boss@office.example", day)
	require.NoError(t, err)
	require.Empty(t, before)
	_, err = p.AskReset(ctx, "nobody", l, now, day)
	require.ErrorIs(t, err, fault.ErrNotFound)
	to, err := p.AskReset(ctx, "boss", l, now, day)
	require.NoError(t, err)
	require.Equal(t, account.Address("boss@office.example"), to)

	seed, err := account.NewSeed(rand.Reader)
	require.NoError(t, err)
	require.NoError(t, p.SetSecond(ctx, id, seed, 100, nil, day))
	k := token(t)
	require.NoError(t, p.SignIn(ctx, id, k, false, day))

	late := now.Add(account.ResetWithin)
	_, err = p.ResetFor(ctx, l, late)
	require.ErrorIs(t, err, fault.ErrNotFound, "its half hour is over")
	require.ErrorIs(t, p.Reset(ctx, l, "late", late, day), fault.ErrNotFound)
	require.ErrorIs(t, p.Join(ctx, l, "other", day), fault.ErrNotFound, "it is no coordinator's link, which would remove the second step")
	who, err := p.ResetFor(ctx, l, late.Add(-time.Second))
	require.NoError(t, err)
	require.Equal(t, "boss", who.Login)

	var won, lost int
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			err := p.Reset(ctx, l, "new", now, day)
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
	_, stored, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	require.Equal(t, "new", stored)
	_, err = p.Session(ctx, k, day)
	require.ErrorIs(t, err, fault.ErrNotFound, "every session ends")
	s, err := p.Second(ctx, id)
	require.NoError(t, err)
	require.True(t, s.On, "the second step stays")
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.trail WHERE action = 'reset'`))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.trail WHERE detail::text LIKE '%@%'`), "no address in the trail")
}

// A person gets five a day; every other way to a password ends the link, and so
// does another address; a closed account has no address.
func TestLinksByMailEnd(t *testing.T) {
	o := newOffice(t)
	p, ctx := o.boss()
	id, err := p.Invite(ctx, account.Staff{Login: "clerk", Name: "Robin", Role: account.Clerk, Counties: []place.ID{o.counties[0].ID}}, link(t), day, day)
	require.NoError(t, err)
	now := time.Date(2024, 11, 4, 9, 30, 0, 0, time.UTC)
	_, err = p.SetAddress(ctx, id, "robin@office.example", day)
	require.NoError(t, err)
	_, err = p.AskReset(ctx, "clerk", link(t), now, day)
	require.ErrorIs(t, err, fault.ErrNotFound, "invited, no password yet: the invitation it is")
	invitation := link(t)
	require.NoError(t, p.GiveLink(ctx, id, invitation, day, day))
	require.NoError(t, p.Join(ctx, invitation, "first", day))

	ends := map[string]func() error{
		"a coordinator's link": func() error { return p.GiveLink(ctx, id, link(t), day, day) },
		"the own page":         func() error { return p.SetPassword(ctx, id, "second", token(t), day) },
		"another address":      func() error { _, err := p.SetAddress(ctx, id, "robin@lab.example", day); return err },
		"no address":           func() error { _, err := p.SetAddress(ctx, id, "", day); return err },
	}
	for name, end := range ends {
		tomorrow := day.AddDate(0, 0, 1)
		_, err := p.SetAddress(ctx, id, "robin@office.example", day)
		require.NoError(t, err)
		l := link(t)
		_, err = p.AskReset(ctx, "clerk", l, now, tomorrow)
		require.NoError(t, err, name)
		require.NoError(t, end(), name)
		_, err = p.ResetFor(ctx, l, now)
		require.ErrorIs(t, err, fault.ErrNotFound, name)
	}
	_, err = p.SetAddress(ctx, id, "robin@office.example", day)
	require.NoError(t, err)
	for i := range account.ResetsADay + 2 {
		_, err := p.AskReset(ctx, "clerk", link(t), now, day)
		require.Equal(t, i < account.ResetsADay, err == nil, i)
	}
	require.NoError(t, p.SetActive(ctx, id, false, day))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.staff_address`))
	_, err = p.SetAddress(ctx, id, "robin@office.example", day)
	require.ErrorIs(t, err, fault.ErrNotFound, "the account is closed")
	_, err = postgres.NewPeople(o.public).Address(ctx, id)
	require.Error(t, err, "the role that serves pages cannot read an address")

	boss, _, err := p.Password(ctx, "boss")
	require.NoError(t, err)
	_, err = p.SetAddress(ctx, boss, "boss@office.example", day)
	require.NoError(t, err)
	n, err := p.ForgetAddresses(ctx)
	require.NoError(t, err)
	require.Equal(t, 1, n)
}
