package office

import (
	"cmp"
	"context"
	"slices"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
)

// fakeTrays has one tray with three bags in it, and keeps what is noted.
type fakeTrays struct {
	calls
	plan     desk.TrayPlan
	controls []desk.Control
	mail     map[time.Time]int
	ledger   tray.Ledger
	strays   []desk.Stray
	fates    map[desk.ID]desk.Fate
	idle     []desk.Idle
}

func inventedTrays() *fakeTrays {
	return &fakeTrays{
		plan: desk.TrayPlan{Season: 2026, Plan: tray.Usual(7), Seated: 3, KeepDays: 7, Recounts: 12},
		mail: map[time.Time]int{}, fates: map[desk.ID]desk.Fate{},
		ledger: tray.Arrivals(181, map[string]int{tray.InTray: 150, tray.ByLot: 6, tray.InQueue: 2, tray.Uncounted: 22}),
		strays: []desk.Stray{{ID: desk.ID{61}, Day: date(2026, 11, 3), Code: codes[9], Kind: desk.StrayUnknown},
			{ID: desk.ID{62}, Day: date(2026, 11, 4), Kind: desk.StrayUnreadable}},
		idle: []desk.Idle{{Code: codes[1], Received: date(2026, 11, 1), Seat: tray.Seat{Tray: 1, Cup: 2}, Condition: tray.Wet},
			{Code: codes[3], Received: date(2026, 11, 20), Seat: tray.Seat{Tray: 1, Cup: 4}, HasForm: true}},
	}
}

func (f *fakeTrays) Plan(context.Context, int) (desk.TrayPlan, error) { f.hit(); return f.plan, nil }

func (f *fakeTrays) SetPlan(_ context.Context, p desk.TrayPlan) error {
	f.hit()
	if p.Cups != f.plan.Cups {
		return fault.ErrConflict
	}
	f.plan = p
	return p.Valid()
}

func (f *fakeTrays) List(context.Context, int) ([]desk.TrayLine, error) {
	f.hit()
	return []desk.TrayLine{{No: 1, Bags: 3, Counted: 1, Blanks: f.controls}}, nil
}

func (f *fakeTrays) Tray(_ context.Context, _, no int) ([]desk.Cup, error) {
	f.hit()
	if no != 1 {
		return nil, fault.ErrNotFound
	}
	kinds, err := f.plan.Lay(no)
	cups := make([]desk.Cup, len(kinds))
	next := 0
	for i, k := range kinds {
		cups[i] = desk.Cup{No: i + 1, Kind: k}
		if k == tray.Sample && next < 3 {
			cups[i].Code, cups[i].State = codes[next], bag.SoilIn
			next++
		}
		for j := range f.controls {
			if f.controls[j].Cup == i+1 {
				cups[i].Control = &f.controls[j]
			}
		}
	}
	return cups, err
}

func (f *fakeTrays) KeyControl(ctx context.Context, season, no, cup int, c assay.Count, m assay.Method, _ account.ID, day time.Time) error {
	f.hit()
	cups, err := f.Tray(ctx, season, no)
	if err != nil || cup < 1 || cup > len(cups) || cups[cup-1].Kind == tray.Sample {
		return fault.ErrNotFound
	}
	r, err := c.Density(m)
	f.controls = append(f.controls, desk.Control{Season: season, Tray: no, Cup: cup, Kind: cups[cup-1].Kind, Method: m,
		Eggs: r.Eggs, CystSeen: r.CystSeen, Density: r.Density, Day: day})
	return err
}

func (f *fakeTrays) Arrivals(context.Context, time.Time, time.Time) (tray.Ledger, error) {
	f.hit()
	return f.ledger, nil
}

func (f *fakeTrays) LotLedgers(_ context.Context, season int) ([]desk.LotLedger, error) {
	f.hit()
	return []desk.LotLedger{{Lot: desk.ID{8}, County: 2, Season: season,
		Ledger: tray.Lot(300, map[bag.State]int{bag.Issued: 90, bag.Counted: 122, bag.SoilIn: 86, bag.Void: 1})}}, nil
}

func (f *fakeTrays) CountMail(_ context.Context, day time.Time, n int) error {
	f.hit()
	f.mail[day] = n
	return nil
}

func (f *fakeTrays) Idle(_ context.Context, _, _ int, by desk.IdleOrder) ([]desk.Idle, error) {
	f.hit()
	out := slices.Clone(f.idle)
	switch by {
	case desk.IdleByCode:
		slices.SortFunc(out, func(a, b desk.Idle) int { return cmp.Compare(a.Code, b.Code) })
	case desk.IdleBySeat:
		slices.SortFunc(out, func(a, b desk.Idle) int {
			return cmp.Or(cmp.Compare(a.Seat.Tray, b.Seat.Tray), cmp.Compare(a.Seat.Cup, b.Seat.Cup))
		})
	}
	return out, nil
}

func (f *fakeTrays) Strays(context.Context) ([]desk.Stray, error) { f.hit(); return f.strays, nil }

func (f *fakeTrays) SettleStray(_ context.Context, id desk.ID, fate desk.Fate, _ time.Time) error {
	f.hit()
	for i, s := range f.strays {
		if s.ID == id {
			f.strays = append(f.strays[:i:i], f.strays[i+1:]...)
			f.fates[id] = fate
			return nil
		}
	}
	return fault.ErrNotFound
}

func (f *fakeTrays) RetypeStray(ctx context.Context, id desk.ID, code bag.Code, _ tray.Condition, day time.Time) (tray.Seat, error) {
	f.hit()
	switch code {
	case codes[1]:
		return tray.Seat{}, fault.ErrConflict
	case codes[0]:
		return tray.Seat{Tray: 1, Cup: 9}, f.SettleStray(ctx, id, "retyped", day)
	}
	return tray.Seat{}, fault.ErrNotFound
}

// fakeSlips knows codes[1] as a bag without a form, and codes[0] as one with.
type fakeSlips struct {
	calls
	visits  []sample.Visit
	assumed []bag.Code
}

func slipError(c bag.Code) error {
	switch c {
	case codes[1]:
		return nil
	case codes[0]:
		return fault.ErrConflict
	}
	return fault.ErrNotFound
}

func (f *fakeSlips) KeySlip(_ context.Context, v sample.Visit, _ time.Time) error {
	f.hit()
	if err := slipError(v.Senders[0].Bags[0].Code); err != nil {
		return err
	}
	f.visits = append(f.visits, v)
	return nil
}

func (f *fakeSlips) Assume(_ context.Context, c bag.Code) error {
	f.hit()
	if err := slipError(c); err != nil {
		return err
	}
	f.assumed = append(f.assumed, c)
	return nil
}

// fakeHistories has a history of codes[0].
type fakeHistories struct{ calls }

func (f *fakeHistories) History(_ context.Context, c bag.Code) (desk.History, error) {
	f.hit()
	if c != codes[0] {
		return desk.History{}, fault.ErrNotFound
	}
	m := assay.DefaultMethod()
	count := m.Count(42)
	count.Aliquots = append(count.Aliquots, assay.Aliquot{ML: 2, Eggs: 90})
	r, err := count.Density(m)
	signed, came := date(2026, 11, 22), date(2026, 11, 1)
	return desk.History{
		Code: c, State: bag.Counted, Season: 2026, Issued: date(2026, 8, 3), Received: &came, Condition: tray.Dry,
		Seat: tray.Seat{Tray: 3, Cup: 17}, Source: desk.BySlip, FollowUp: codes[5],
		Results: []desk.Standing{
			{ID: desk.ID{1}, Day: date(2026, 11, 20), By: "lab", Reading: reading(42), Count: m.Count(42), Method: m, Signed: &signed},
			{ID: desk.ID{2}, Day: date(2026, 11, 24), By: "lab", Reading: r, Count: count, Method: m, Why: assay.LookedAgain, Stands: true},
		},
		Twins:  []desk.Twin{{Day: date(2026, 11, 21), Kind: assay.SameSuspension, Code: c, First: m.Count(42), Second: m.Count(50), Method: m}},
		Claims: []desk.Claim{{Day: date(2026, 10, 3), Reason: "doubled"}},
	}, err
}

// Fresh gives two counts whose suspensions stand: one that another look may change.
func (f *fakeLab) Fresh(context.Context, int, time.Time) ([]desk.Fresh, error) {
	f.hit()
	return []desk.Fresh{
		{Code: codes[4], Day: today, Reading: reading(200)},
		{Code: codes[0], Day: today, Seat: tray.Seat{Tray: 1, Cup: 2}, Reading: reading(41)},
	}, nil
}

// Recounted is how many the test says.
func (f *fakeLab) Recounted(context.Context, int, time.Time) (int, error) {
	f.hit()
	return f.recounted, nil
}

func (f *fakeTrays) Controls(_ context.Context, _ int, kind tray.Kind) ([]desk.Control, error) {
	f.hit()
	var out []desk.Control
	for _, c := range f.controls {
		if c.Kind == kind {
			out = append(out, c)
		}
	}
	return out, nil
}

// fakeTwins keeps second counts beside one of 42 eggs.
type fakeTwins struct {
	calls
	twins []desk.Twin
}

func (f *fakeTwins) Twins(context.Context, int) ([]desk.Twin, error) { f.hit(); return f.twins, nil }

func (f *fakeTwins) Duplicate(_ context.Context, code bag.Code, kind assay.Twin, c assay.Count, _ account.ID, day time.Time) error {
	f.hit()
	m := assay.DefaultMethod()
	f.twins = append(f.twins, desk.Twin{Day: day, Kind: kind, Code: code, First: m.Count(42), Second: c, Method: m})
	return nil
}

// fakeMethods keeps recipes.
type fakeMethods struct {
	calls
	recipes []desk.Recipe
}

func inventedMethods() *fakeMethods {
	f := &fakeMethods{}
	for _, m := range assay.PresetMethods() {
		f.recipes = append(f.recipes, desk.Recipe{Method: m, Sieves: "s20_60_200_500"})
	}
	return f
}

func (f *fakeMethods) Recipes(context.Context) ([]desk.Recipe, error) { f.hit(); return f.recipes, nil }

func (f *fakeMethods) AddMethod(_ context.Context, r desk.Recipe) error {
	f.hit()
	f.recipes = append(f.recipes, r)
	return r.Check()
}

func (f *fakeSignOff) FollowUp(_ context.Context, id desk.ID, season int, _ time.Time) ([]desk.ID, int, error) {
	f.hit()
	for i := range f.batches {
		if f.batches[i].ID == id {
			n := f.batches[i].Unconfirmed
			f.batches[i].Unconfirmed = 0
			return nil, n, nil
		}
	}
	return nil, 0, fault.ErrNotFound
}
