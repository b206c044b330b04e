package postgres_test

import (
	"cmp"
	"crypto/rand"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
)

func (o *office) token() sample.Token {
	o.visits++
	return sample.Token{byte(o.visits), byte(o.visits >> 8), 9}
}

// sealed issues a lot of bundles and gives their codes.
func (o *office) sealed(sizes ...int) [][]bag.Code {
	o.t.Helper()
	store := postgres.NewBags(o.staff)
	id, err := store.Issue(ctxOf(o.t), o.counties[0].ID, 2020, sizes, date(2020, 8, 1))
	require.NoError(o.t, err)
	bundles, _, err := store.Bundles(ctxOf(o.t), id)
	require.NoError(o.t, err)
	return bundles
}

// One fall of a lab: 900 bags of which 15 come without a form, 9 of those with
// their slip and 6 with neither, and six scans that are no bag of the program's.
// At the end every bag is accounted for.
func TestNineHundredBagsEndWithNothingUnexplained(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	sizes := make([]int, 180)
	for i := range sizes {
		sizes[i] = 5
	}
	bundles := o.sealed(sizes...)
	trays, bags, signoff := postgres.NewTrays(o.staff), postgres.NewBags(o.staff), postgres.NewSignOff(o.staff)
	var codes []bag.Code
	towns := o.townships[o.counties[0].ID]
	for i, b := range bundles {
		if i < 177 { // the last three bundles send no form
			o.take(o.visit(sample.FirstEver, towns[i%len(towns)].ID, 2020, b...))
		}
		codes = append(codes, b...)
	}
	seats := map[tray.Seat]bool{}
	var mu sync.Mutex
	var wg sync.WaitGroup
	for lane := range 2 { // two technicians at two scanners
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := lane; i < len(codes); i += 2 {
				seat, err := trays.Arrive(ctx, codes[i], tray.Good, date(2020, 11, 1))
				mu.Lock()
				if err != nil || seats[seat] {
					t.Errorf("bag %d: %v %v", i, seat, err)
				}
				seats[seat] = true
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	require.Len(t, seats, 900)
	// Six bad codes: four nobody issued, one bag that was set aside, one that cannot be read.
	for range 4 {
		bad := unissued(t)
		_, err := trays.Arrive(ctx, bad, tray.Good, date(2020, 11, 1))
		require.ErrorIs(t, err, fault.ErrNotFound)
		require.NoError(t, trays.Stray(ctx, desk.Stray{Code: bad, Kind: desk.StrayUnknown}, o.token(), date(2020, 11, 1)))
		require.NoError(t, trays.Stray(ctx, desk.Stray{Code: bad, Kind: desk.StrayUnknown}, o.token(), date(2020, 11, 1)), "scanned twice")
	}
	void := o.sealed(1)[0][0]
	_, err := o.staff.Exec(ctx, `UPDATE priv.bag SET state = 'void' WHERE code = $1`, string(void))
	require.NoError(t, err)
	require.NoError(t, trays.Stray(ctx, desk.Stray{Code: void, Kind: desk.StrayUnknown}, o.token(), date(2020, 11, 1)))
	once := o.token()
	for range 2 {
		require.NoError(t, trays.Stray(ctx, desk.Stray{Kind: desk.StrayUnreadable}, once, date(2020, 11, 1)))
	}
	require.NoError(t, trays.CountMail(ctx, date(2020, 11, 1), 906))

	ledger, err := trays.Arrivals(ctx, date(2020, 8, 1), date(2021, 7, 31))
	require.NoError(t, err)
	require.True(t, ledger.Even(), "%+v", ledger)
	require.Equal(t, 906, ledger.Total)
	require.Equal(t, 6, part(ledger, tray.InQueue))
	// A bag that the hand count has and no scan: said, not hidden.
	require.NoError(t, trays.CountMail(ctx, date(2020, 11, 1), 907))
	ledger, err = trays.Arrivals(ctx, date(2020, 8, 1), date(2021, 7, 31))
	require.NoError(t, err)
	require.Equal(t, 1, ledger.Unexplained())
	require.NoError(t, trays.CountMail(ctx, date(2020, 11, 1), 906))

	slipless := codes[885:]
	m := assay.DefaultMethod()
	require.ErrorIs(t, postgres.NewLab(o.staff).Record(ctx, desk.Keyed{Code: slipless[0], Method: m, Count: m.Count(1), Day: date(2020, 11, 2)}, account.ID{}),
		fault.ErrNotFound, "a count needs a place")
	for _, c := range slipless[:9] {
		require.NoError(t, bags.KeySlip(ctx, o.visit(sample.Earlier, towns[3].ID, 2020, c), date(2020, 11, 2)))
		require.ErrorIs(t, bags.KeySlip(ctx, o.visit(sample.Earlier, towns[3].ID, 2020, c), date(2020, 11, 2)), fault.ErrConflict)
	}
	for _, c := range slipless[9:] {
		require.NoError(t, bags.Assume(ctx, c))
		require.ErrorIs(t, bags.Assume(ctx, c), fault.ErrConflict)
	}
	require.ErrorIs(t, bags.Assume(ctx, "22222224"), fault.ErrNotFound)
	strays, err := trays.Strays(ctx)
	require.NoError(t, err)
	require.Len(t, strays, 6)
	for i, s := range strays {
		fate := desk.LaidAside
		if i == 0 {
			fate = desk.SentBack
		}
		require.NoError(t, trays.SettleStray(ctx, s.ID, fate, date(2020, 11, 3)))
		require.ErrorIs(t, trays.SettleStray(ctx, s.ID, fate, date(2020, 11, 3)), fault.ErrNotFound)
	}
	idle, err := trays.Idle(ctx, 2020, 2000, desk.IdleLongest)
	require.NoError(t, err)
	require.Len(t, idle, 900)
	bySeat, err := trays.Idle(ctx, 2020, 40, desk.IdleBySeat)
	require.NoError(t, err)
	require.Len(t, bySeat, 40, "the first of all, not of some")
	for i, at := range bySeat {
		if i > 0 {
			was := bySeat[i-1].Seat
			require.True(t, at.Seat.Tray > was.Tray || at.Seat.Tray == was.Tray && at.Seat.Cup > was.Cup, "%v after %v", at.Seat, was)
		}
	}
	require.Equal(t, 1, bySeat[0].Seat.Tray)
	byCode, err := trays.Idle(ctx, 2020, 2000, desk.IdleByCode)
	require.NoError(t, err)
	require.True(t, slices.IsSortedFunc(byCode, func(a, b desk.Idle) int { return cmp.Compare(a.Code, b.Code) }))
	require.ElementsMatch(t, idle, byCode)
	other, err := trays.Idle(ctx, 2020, 2000, "b.code; DROP TABLE priv.bag")
	require.NoError(t, err)
	require.Equal(t, idle, other, "what is no order is the usual one")
	for _, c := range codes {
		require.NoError(t, postgres.NewLab(o.staff).Record(ctx, desk.Keyed{Code: c, Method: m, Count: m.Count(2), Day: date(2020, 11, 9)}, account.ID{}))
	}
	unsigned, err := signoff.Unsigned(ctx)
	require.NoError(t, err)
	var ids []desk.ID
	for _, u := range unsigned {
		ids = append(ids, u.Result)
	}
	_, n, err := signoff.Sign(ctx, ids, account.ID{}, date(2020, 11, 10))
	require.NoError(t, err)
	require.Equal(t, 900, n)
	o.release(date(2020, 12, 31), date(2021, 1, 15))

	ledger, err = trays.Arrivals(ctx, date(2020, 8, 1), date(2021, 7, 31))
	require.NoError(t, err)
	require.True(t, ledger.Even(), "%+v", ledger)
	require.Equal(t, 6, part(ledger, tray.ByLot))
	require.Equal(t, 894, part(ledger, tray.InTray))
	require.Zero(t, part(ledger, tray.InQueue))
	lots, err := trays.LotLedgers(ctx, 2020)
	require.NoError(t, err)
	require.Len(t, lots, 2)
	for _, l := range lots {
		require.True(t, l.Even(), "%+v", l)
		if l.Total == 900 {
			require.Equal(t, 894, part(l.Ledger, "released"))
			require.Equal(t, 6, part(l.Ledger, "waiting"), "the county-only ones wait for the rest of the county")
		}
	}
}

// unissued is a well-formed code that no bag has.
func unissued(t *testing.T) bag.Code {
	t.Helper()
	c, err := bag.Draw(rand.Reader)
	require.NoError(t, err)
	return c
}

func part(l tray.Ledger, key string) int {
	for _, p := range l.Parts {
		if p.Key == key {
			return p.N
		}
	}
	return 0
}

func TestConditionDecidesOverACup(t *testing.T) {
	o := newOffice(t)
	ctx, trays := ctxOf(t), postgres.NewTrays(o.staff)
	c := o.bags(3)
	seat, err := trays.Arrive(ctx, c[0], tray.Torn, date(2020, 11, 1))
	require.NoError(t, err)
	require.Zero(t, seat)
	seat, err = trays.Arrive(ctx, c[1], tray.Wet, date(2020, 11, 1))
	require.NoError(t, err)
	require.Equal(t, 1, seat.Tray)
	again, err := trays.Arrive(ctx, c[1], tray.Good, date(2020, 11, 4))
	require.ErrorIs(t, err, fault.ErrConflict)
	require.Equal(t, seat, again, "a bag keeps its cup")
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.bag WHERE received = '2020-11-01' AND condition = 'wet'`), "a second scan takes nothing back")
	// Looked at again it can be washed after all.
	seat, err = trays.Arrive(ctx, c[0], tray.Short, date(2020, 11, 4))
	require.ErrorIs(t, err, fault.ErrConflict)
	require.NotZero(t, seat)
	cups, err := trays.Tray(ctx, 2020, 1)
	require.NoError(t, err)
	require.Len(t, cups, 40)
	kinds := map[tray.Kind]int{}
	for _, cup := range cups {
		kinds[cup.Kind]++
	}
	require.Equal(t, map[tray.Kind]int{tray.Sample: 38, tray.Blank: 1, tray.Check: 1}, kinds)
	_, err = trays.Tray(ctx, 2020, 2)
	require.ErrorIs(t, err, fault.ErrNotFound)

	p, err := trays.Plan(ctx, 2020)
	require.NoError(t, err)
	p.Cups = 24
	require.ErrorIs(t, trays.SetPlan(ctx, p), fault.ErrConflict, "trays with bags in them are not laid anew")
	p.Cups, p.Target = 40, 1500
	require.NoError(t, trays.SetPlan(ctx, p))
	p.Season, p.Cups = 2021, 3
	require.ErrorIs(t, trays.SetPlan(ctx, p), tray.ErrPlan)
}

// A blank with eggs holds its tray's counts for a look.
func TestAFailedBlankHoldsItsTray(t *testing.T) {
	o := newOffice(t)
	ctx, trays, m := ctxOf(t), postgres.NewTrays(o.staff), assay.DefaultMethod()
	c := o.bags(1)[0]
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c))
	_, err := trays.Arrive(ctx, c, tray.Good, date(2020, 11, 1))
	require.NoError(t, err)
	o.keyed(c, 0)
	cups, err := trays.Tray(ctx, 2020, 1)
	require.NoError(t, err)
	for _, cup := range cups {
		err := trays.KeyControl(ctx, 2020, 1, cup.No, m.Count(2), m, account.ID{}, date(2020, 11, 2))
		if cup.Kind == tray.Sample {
			require.ErrorIs(t, err, fault.ErrNotFound)
			continue
		}
		require.NoError(t, err)
	}
	held := func() []desk.Hold {
		list, err := postgres.NewSignOff(o.staff).Unsigned(ctx)
		require.NoError(t, err)
		require.Len(t, list, 1)
		return list[0].Held
	}
	require.Equal(t, []desk.Hold{desk.ControlFailed}, held())
	for _, cup := range cups {
		if cup.Kind == tray.Blank {
			require.NoError(t, trays.KeyControl(ctx, 2020, 1, cup.No, m.Count(0), m, account.ID{}, date(2020, 11, 2)))
		}
	}
	require.Empty(t, held(), "the cup keyed again: the last stands")
	require.Equal(t, 3, o.count(`SELECT count(*) FROM priv.control`), "and the first is kept")
	checks, err := trays.Controls(ctx, 2020, tray.Check)
	require.NoError(t, err)
	require.Len(t, checks, 1)
	require.Equal(t, assay.Density(100), checks[0].Density)
}

// The form of a bag that was taken to be of its lot's county comes after all.
func TestAFormTakesAnAssumptionsPlace(t *testing.T) {
	o := newOffice(t)
	c := o.bags(1)[0]
	bags := postgres.NewBags(o.staff)
	require.ErrorIs(t, bags.Assume(ctxOf(t), c), fault.ErrNotFound, "its soil has not come")
	require.NoError(t, bags.LogIn(ctxOf(t), c, date(2020, 11, 1)))
	require.NoError(t, bags.Assume(ctxOf(t), c))
	b, err := postgres.NewLab(o.staff).Find(ctxOf(t), c)
	require.NoError(t, err)
	require.True(t, b.HasForm && b.Assumed)
	o.keyed(c, 42)
	o.sign(date(2020, 11, 3), c)
	where := o.townships[o.counties[1].ID][2].ID
	v := o.visit(sample.FirstEver, where, 2020, c)
	o.take(v)
	o.take(v)
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.sample WHERE place = $1 AND source = 'form' AND standing = 2`, int32(where)))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.queue_item`))
	a, err := postgres.NewIntake(o.public).Answer(ctxOf(t), v.Token.Secret(c))
	require.NoError(t, err)
	require.Equal(t, 2100.0, a.Result.Density)
	require.Equal(t, 1, o.count(`SELECT count(DISTINCT coalesce(merged_into, id)) FROM priv.sender`))
	// A second form is one too many, as for any bag.
	o.take(o.visit(sample.FirstEver, where, 2020, c))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.queue_item WHERE reason = 'used'`))
}

// Two forms claim a counted bag and the later one is right: the count goes along,
// and its sender gets it once it is signed anew; the earlier gets nothing more.
func TestTheLaterFormIsPreferred(t *testing.T) {
	o := newOffice(t)
	ctx, bags, intake := ctxOf(t), postgres.NewBags(o.staff), postgres.NewIntake(o.public)
	c := o.bags(1)[0]
	first, second := o.visit(sample.FirstEver, o.counties[0].ID, 2020, c), o.visit(sample.FirstEver, o.counties[1].ID, 2020, c)
	o.take(first)
	o.counted(c, 42, date(2020, 11, 1))
	o.take(second)
	queue, err := bags.Queue(ctx)
	require.NoError(t, err)
	require.Len(t, queue, 1)
	require.ErrorIs(t, bags.Retype(ctx, queue[0].ID, c, date(2020, 11, 2)), fault.ErrNotFound)
	require.NoError(t, bags.Prefer(ctx, queue[0].ID, date(2020, 11, 2)))
	require.ErrorIs(t, bags.Prefer(ctx, queue[0].ID, date(2020, 11, 2)), fault.ErrNotFound)
	a, err := intake.Answer(ctx, second.Token.Secret(c))
	require.NoError(t, err)
	require.Nil(t, a.Result)
	require.Equal(t, "counted", o.state(c))
	o.sign(date(2020, 11, 3), c)
	a, err = intake.Answer(ctx, second.Token.Secret(c))
	require.NoError(t, err)
	require.Equal(t, 2100.0, a.Result.Density)
	a, err = intake.Answer(ctx, first.Token.Secret(c))
	require.NoError(t, err)
	require.True(t, a.Held)
	require.Nil(t, a.Result)
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.arrival`))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.bundle u JOIN priv.sample s ON s.sender = u.sender JOIN priv.bag_link l ON l.sample = s.id`),
		"the bundle is the later sender's")

	// On a map it stays as it is.
	where := o.townships[o.counties[0].ID][5].ID
	codes := o.farms(3, where, 2020, 42)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.take(o.visit(sample.FirstEver, where, 2020, codes[0]))
	queue, err = bags.Queue(ctx)
	require.NoError(t, err)
	require.ErrorIs(t, bags.Prefer(ctx, queue[0].ID, date(2021, 2, 2)), fault.ErrConflict)
}

// A slip of the pen in the code is put right, and the sender's link still opens.
func TestTheRightCodeIsRetyped(t *testing.T) {
	o := newOffice(t)
	ctx, bags := ctxOf(t), postgres.NewBags(o.staff)
	c := o.bags(2)
	wrong := unissued(t)
	v := o.visit(sample.FirstEver, o.counties[0].ID, 2020, wrong)
	o.take(v)
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c[1]))
	queue, err := bags.Queue(ctx)
	require.NoError(t, err)
	require.ErrorIs(t, bags.Retype(ctx, queue[0].ID, c[1], date(2020, 11, 2)), fault.ErrConflict, "another form holds it")
	require.ErrorIs(t, bags.Retype(ctx, queue[0].ID, wrong, date(2020, 11, 2)), fault.ErrNotFound)
	require.NoError(t, bags.LogIn(ctx, c[0], date(2020, 11, 1)))
	require.NoError(t, bags.Assume(ctx, c[0]), "it had been given up")
	o.keyed(c[0], 42)
	require.NoError(t, bags.Retype(ctx, queue[0].ID, c[0], date(2020, 11, 2)))
	o.sign(date(2020, 11, 3), c[0])
	a, err := postgres.NewIntake(o.public).Answer(ctx, v.Token.Secret(wrong))
	require.NoError(t, err)
	require.Equal(t, 2100.0, a.Result.Density)
	left, err := bags.Queue(ctx)
	require.NoError(t, err)
	require.Empty(t, left)
}
