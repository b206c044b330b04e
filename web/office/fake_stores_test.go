package office

import (
	"context"
	"slices"
	"sync"
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
)

type fakeProgram struct {
	places  []place.Place
	seasons []sample.Season
}

func (f *fakeProgram) Places(context.Context) ([]place.Place, error)    { return f.places, nil }
func (f *fakeProgram) Seasons(context.Context) ([]sample.Season, error) { return f.seasons, nil }

// fakePeople has one person a role, with the role's name as login, and "right"
// as stored password.
type fakePeople struct {
	mu        sync.Mutex
	lookedUp  []string
	signedIn  []account.Token
	signedOut []account.Token
}

func staffOf(role account.Role) account.Staff {
	return account.Staff{ID: account.ID{1, byte(len(role))}, Login: string(role), Name: "Robin Vale", Role: role}
}

func (f *fakePeople) Password(_ context.Context, login string) (account.ID, string, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.lookedUp = append(f.lookedUp, login)
	if slices.Contains(account.Roles, account.Role(login)) {
		return staffOf(account.Role(login)).ID, "stored form of right", nil
	}
	return account.ID{}, "", nil
}

func (f *fakePeople) SignIn(_ context.Context, _ account.ID, t account.Token, _ time.Time) error {
	f.signedIn = append(f.signedIn, t)
	return nil
}

func (f *fakePeople) SignOut(_ context.Context, t account.Token) error {
	f.signedOut = append(f.signedOut, t)
	return nil
}

// fakePasswords counts how often a password was hashed.
type fakePasswords struct{ checks int }

func (f *fakePasswords) Check(_ context.Context, stored, password string) (bool, error) {
	f.checks++
	return stored == "stored form of "+password, nil
}

type fakeSeason struct{ p desk.Progress }

func (f *fakeSeason) Progress(context.Context, int) (desk.Progress, error) { return f.p, nil }

// fakeSoil knows codes[0..3]; codes[1] had come before.
type fakeSoil struct{ in map[bag.Code]bool }

func (f *fakeSoil) LogIn(_ context.Context, c bag.Code, _ time.Time) error {
	in, known := f.in[c]
	switch {
	case !known:
		return fault.ErrNotFound
	case in:
		return fault.ErrConflict
	}
	f.in[c] = true
	return nil
}

type fakeRecipes struct{ methods []assay.Method }

func (f *fakeRecipes) Methods(context.Context) ([]assay.Method, error) { return f.methods, nil }
func (f *fakeRecipes) Scheme(context.Context) (assay.Scheme, error) {
	return assay.DefaultScheme(), nil
}

type recorded struct {
	code     bag.Code
	count    assay.Count
	method   assay.Method
	replaces desk.ID
	by       account.ID
}

// fakeLab keeps results the way the store does: one head a bag.
type fakeLab struct {
	bags    map[bag.Code]desk.LabBag
	records []recorded
	before  func() // runs once, just before the next record
}

func (f *fakeLab) Find(_ context.Context, c bag.Code) (desk.LabBag, error) {
	b, ok := f.bags[c]
	if !ok {
		return desk.LabBag{}, fault.ErrNotFound
	}
	return b, nil
}

func (f *fakeLab) Record(_ context.Context, c bag.Code, n assay.Count, m assay.Method, replaces desk.ID, by account.ID, _ time.Time) error {
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
	f.records = append(f.records, recorded{c, n, m, replaces, by})
	f.put(c, n, m)
	return nil
}

// put stores a result as the store reads it back: portions added up.
func (f *fakeLab) put(c bag.Code, n assay.Count, m assay.Method) {
	r, err := n.Density(m)
	if err != nil {
		panic(err)
	}
	b := f.bags[c]
	ml, eggs := looked(n)
	b.Head = desk.ID{byte(len(f.records) + 100)}
	b.Count, b.Reading, b.State = n, r, bag.Counted
	b.Count.Aliquots = []assay.Aliquot{{ML: ml, Eggs: eggs}}
	f.bags[c] = b
}

type fakeLots struct {
	lots  []desk.Lot
	sizes [][]int
}

func (f *fakeLots) Issue(_ context.Context, county place.ID, season int, sizes []int, day time.Time) (desk.ID, error) {
	f.sizes = append(f.sizes, sizes)
	lot := desk.Lot{ID: desk.ID{9, byte(len(f.sizes))}, County: county, Season: season, Issued: day, Bundles: len(sizes)}
	for _, n := range sizes {
		lot.Bags += n
	}
	f.lots = append([]desk.Lot{lot}, f.lots...)
	return lot.ID, nil
}

func (f *fakeLots) Lots(_ context.Context, season int) ([]desk.Lot, error) {
	var out []desk.Lot
	for _, l := range f.lots {
		if l.Season == season {
			out = append(out, l)
		}
	}
	return out, nil
}

func (f *fakeLots) Bundles(_ context.Context, id desk.ID) ([][]bag.Code, place.ID, error) {
	for _, l := range f.lots {
		if l.ID == id {
			return [][]bag.Code{codes[:4], codes[4:6]}, l.County, nil
		}
	}
	return nil, 0, fault.ErrNotFound
}

type fakeQueue struct{ items []desk.QueueItem }

func (f *fakeQueue) Queue(context.Context) ([]desk.QueueItem, error) { return f.items, nil }

func (f *fakeQueue) Settle(_ context.Context, id desk.ID, _ time.Time) error {
	i := slices.IndexFunc(f.items, func(q desk.QueueItem) bool { return q.ID == id })
	if i < 0 {
		return fault.ErrNotFound
	}
	f.items = slices.Delete(f.items, i, i+1)
	return nil
}

// fakeReleases releases the preview it gives, once.
type fakeReleases struct {
	preview  desk.Preview
	released []gazette.Edition
	tooSoon  bool
	found    bool // the audit inside the release finds something
}

func (f *fakeReleases) Preview(_ context.Context, cutoff, day time.Time) (desk.Preview, error) {
	p := f.preview
	p.Cutoff, p.Day = cutoff, day
	return p, nil
}

func (f *fakeReleases) Release(_ context.Context, number int, cutoff, day time.Time, stamp string, _ account.ID) (gazette.Edition, error) {
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
