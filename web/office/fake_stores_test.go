package office

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/audit"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
)

// calls counts how often a store was asked for anything.
// Browsers ask side by side.
type calls struct{ n atomic.Int64 }

func (c *calls) hit()         { c.n.Add(1) }
func (c *calls) touched() int { return int(c.n.Load()) }

type fakeProgram struct {
	calls
	places  []place.Place
	seasons []sample.Season
	offices []desk.Office
}

func (f *fakeProgram) Places(context.Context) ([]place.Place, error) { return f.places, nil }
func (f *fakeProgram) Seasons(context.Context) ([]sample.Season, error) {
	f.hit()
	return f.seasons, nil
}

// fakePeople has one person a role, with the role's name as login, and "right"
// as stored password.
type fakePeople struct {
	calls
	mu        sync.Mutex
	lookedUp  []string
	signedIn  []account.Token
	signedOut []account.Token
	half      []bool
}

func staffOf(role account.Role) account.Staff {
	s := account.Staff{ID: account.ID{1, byte(len(role))}, Login: string(role), Name: "Robin Vale", Role: role}
	if role == account.Clerk || role == account.Educator {
		s.Counties = []place.ID{1}
	}
	return s
}

func (f *fakePeople) Password(_ context.Context, login string) (account.ID, string, error) {
	f.hit()
	f.mu.Lock()
	defer f.mu.Unlock()
	f.lookedUp = append(f.lookedUp, login)
	if slices.Contains(account.Roles, account.Role(login)) {
		return staffOf(account.Role(login)).ID, "stored form of right", nil
	}
	return account.ID{}, "", nil
}

func (f *fakePeople) SignIn(_ context.Context, _ account.ID, t account.Token, half bool, _ time.Time) error {
	f.hit()
	f.half = append(f.half, half)
	f.signedIn = append(f.signedIn, t)
	return nil
}

func (f *fakePeople) SignOut(_ context.Context, t account.Token) error {
	f.hit()
	f.signedOut = append(f.signedOut, t)
	return nil
}

// fakePasswords counts how often a password was hashed.
type fakePasswords struct{ checks int }

func (f *fakePasswords) Hash(_ context.Context, password string) (string, error) {
	return "stored form of " + password, nil
}

func (f *fakePasswords) Check(_ context.Context, stored, password string) (bool, error) {
	f.checks++
	return stored == "stored form of "+password, nil
}

type fakeSeason struct {
	calls
	p desk.Progress
}

func (f *fakeSeason) Progress(context.Context, int) (desk.Progress, error) {
	f.hit()
	return f.p, nil
}

// fakeSoil knows codes[0..3]; codes[1] had come before.
type fakeSoil struct {
	calls
	in     map[bag.Code]bool
	seats  map[bag.Code]tray.Seat
	strays []desk.Stray
	pages  map[sample.Token]bool
}

func (f *fakeSoil) Arrive(_ context.Context, c bag.Code, cond tray.Condition, _ time.Time) (tray.Seat, error) {
	f.hit()
	in, known := f.in[c]
	switch {
	case !known:
		return tray.Seat{}, fault.ErrNotFound
	case in:
		return f.seats[c], fault.ErrConflict
	}
	if f.seats == nil {
		f.seats = map[bag.Code]tray.Seat{}
	}
	f.in[c] = true
	if cond.Countable() {
		f.seats[c] = tray.Seat{Tray: 1, Cup: len(f.seats) + 1}
	}
	return f.seats[c], nil
}

func (f *fakeSoil) Stray(_ context.Context, s desk.Stray, page sample.Token, _ time.Time) error {
	f.hit()
	if s.Code == "" && f.pages[page] {
		return nil
	}
	if f.pages == nil {
		f.pages = map[sample.Token]bool{}
	}
	f.pages[page] = true
	f.strays = append(f.strays, s)
	return nil
}

type fakeRecipes struct {
	calls
	methods []assay.Method
}

func (f *fakeRecipes) Methods(context.Context) ([]assay.Method, error) {
	f.hit()
	return f.methods, nil
}
func (f *fakeRecipes) Scheme(context.Context) (assay.Scheme, error) {
	f.hit()
	return assay.DefaultScheme(), nil
}

type recorded struct {
	code     bag.Code
	count    assay.Count
	method   assay.Method
	replaces desk.ID
	by       account.ID
	why      assay.Correction
	report   assay.Report
}

// fakeLab keeps results the way the store does: one head a bag.
type fakeLab struct {
	calls
	bags    map[bag.Code]desk.LabBag
	records []recorded
	before  func() // runs once, just before the next record
	// recounted is how many bags were counted again today.
	recounted int
}

func (f *fakeLab) Find(_ context.Context, c bag.Code) (desk.LabBag, error) {
	f.hit()
	b, ok := f.bags[c]
	if !ok {
		return desk.LabBag{}, fault.ErrNotFound
	}
	return b, nil
}

func (f *fakeLab) Record(_ context.Context, k desk.Keyed, by account.ID) error {
	c, n, m, replaces := k.Code, k.Count, k.Method, k.Replaces
	f.hit()
	if f.before != nil {
		f.before()
		f.before = nil
	}
	b, ok := f.bags[c]
	switch {
	case !ok || !b.HasForm || b.State == bag.Void:
		return fault.ErrNotFound
	case b.Head != replaces:
		return fault.ErrConflict
	}
	if (replaces == desk.ID{}) != (k.Why == "") {
		return assay.Missing
	}
	f.records = append(f.records, recorded{c, n, m, replaces, by, k.Why, k.Report})
	if k.Report.Unit != 0 {
		r, err := k.Reading()
		b.Head, b.Count, b.Reading, b.State = desk.ID{byte(len(f.records) + 100)}, assay.Count{}, r, bag.Counted
		f.bags[c] = b
		return err
	}
	f.put(c, n, m)
	return nil
}

// put stores a result as the store reads it back.
func (f *fakeLab) put(c bag.Code, n assay.Count, m assay.Method) {
	r, err := n.Density(m)
	if err != nil {
		panic(err)
	}
	b := f.bags[c]
	b.Head = desk.ID{byte(len(f.records) + 100)}
	b.Count, b.Reading, b.State, b.Method = n, r, bag.Counted, m
	f.bags[c] = b
}

type fakeLots struct {
	calls
	lots  []desk.Lot
	sizes [][]int
	forms map[sample.Token]desk.ID
}

func (f *fakeLots) IssueOnce(_ context.Context, form sample.Token, county place.ID, season int, sizes []int, day time.Time) (desk.ID, error) {
	f.hit()
	if id, done := f.forms[form]; done {
		return id, nil
	}
	f.sizes = append(f.sizes, sizes)
	lot := desk.Lot{ID: desk.ID{9, byte(len(f.sizes))}, County: county, Season: season, Issued: day, Bundles: len(sizes)}
	for _, n := range sizes {
		lot.Bags += n
	}
	f.lots = append([]desk.Lot{lot}, f.lots...)
	if f.forms == nil {
		f.forms = map[sample.Token]desk.ID{}
	}
	f.forms[form] = lot.ID
	return lot.ID, nil
}

func (f *fakeLots) Lots(_ context.Context, season int) ([]desk.Lot, error) {
	f.hit()
	var out []desk.Lot
	for _, l := range f.lots {
		if l.Season == season {
			out = append(out, l)
		}
	}
	return out, nil
}

func (f *fakeLots) Bundles(_ context.Context, id desk.ID) ([][]bag.Code, place.ID, error) {
	f.hit()
	for _, l := range f.lots {
		if l.ID == id {
			return [][]bag.Code{codes[:4], codes[4:6]}, l.County, nil
		}
	}
	return nil, 0, fault.ErrNotFound
}

func (f *fakeLots) StubWords(context.Context, desk.ID) (map[bag.Code]bag.Words, error) {
	return map[bag.Code]bag.Words{codes[0]: 1}, nil
}

type fakeQueue struct {
	calls
	items []desk.QueueItem
}

func (f *fakeQueue) Queue(context.Context) ([]desk.QueueItem, error) {
	f.hit()
	return f.items, nil
}

// Prefer settles what two forms claim; the item of codes[10] is on a map.
func (f *fakeQueue) Prefer(ctx context.Context, id desk.ID, day time.Time) error {
	if id == (desk.ID{3}) {
		return fault.ErrConflict
	}
	return f.Settle(ctx, id, day)
}

// Retype knows codes[0], and codes[1] as another form's.
func (f *fakeQueue) Retype(ctx context.Context, id desk.ID, code bag.Code, day time.Time) error {
	switch code {
	case codes[0]:
		return f.Settle(ctx, id, day)
	case codes[1]:
		return fault.ErrConflict
	}
	return fault.ErrNotFound
}

func (f *fakeQueue) Settle(_ context.Context, id desk.ID, _ time.Time) error {
	f.hit()
	i := slices.IndexFunc(f.items, func(q desk.QueueItem) bool { return q.ID == id })
	if i < 0 {
		return fault.ErrNotFound
	}
	f.items = slices.Delete(f.items, i, i+1)
	return nil
}

// fakeReleases releases the preview it gives, once.
type fakeReleases struct {
	calls
	preview  desk.Preview
	released []gazette.Edition
	tooSoon  bool
	found    bool // the audit inside the release finds something
}

func (f *fakeReleases) Preview(_ context.Context, cutoff, day time.Time) (desk.Preview, error) {
	f.hit()
	p := f.preview
	p.Cutoff, p.Day = cutoff, day
	return p, nil
}

func (f *fakeReleases) Release(_ context.Context, number int, cutoff, day time.Time, stamp string, _ account.ID) (gazette.Edition, error) {
	f.hit()
	for _, e := range f.released {
		if e.Number == number {
			return e, nil
		}
	}
	switch {
	case f.found:
		return gazette.Edition{}, &audit.Error{Findings: f.preview.Audit}
	case f.tooSoon:
		return gazette.Edition{}, edition.ErrTooSoon
	case stamp != f.preview.Stamp || number != f.preview.Number:
		return gazette.Edition{}, fault.ErrConflict
	}
	e := gazette.Edition{Number: number, Code: "K7QF-2M", Season: f.preview.Season, Cutoff: cutoff, Released: day, K: 3}
	f.released = append(f.released, e)
	return e, nil
}
