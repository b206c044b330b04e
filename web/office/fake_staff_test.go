package office

import (
	"context"
	"slices"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// fakeStaff is the people of the office: one of every role who has joined, one
// who is invited, one whose account is closed.
type fakeStaff struct {
	calls
	people   []account.Person
	links    map[account.Link]account.ID
	second   map[account.ID]account.Second
	recovery map[account.Recovery]bool
	half     map[account.Token]account.ID
	tries    int
	sessions []account.Session
	ended    int
	password string // the last one set
	required bool
	last     bool // changes would leave no coordinator
}

func newFakeStaff() *fakeStaff {
	f := &fakeStaff{links: map[account.Link]account.ID{}, second: map[account.ID]account.Second{},
		recovery: map[account.Recovery]bool{}, half: map[account.Token]account.ID{}}
	used := date(2026, 11, 30)
	for _, r := range account.Roles {
		f.people = append(f.people, account.Person{Staff: staffOf(r), Active: true, Joined: true, Second: r == account.Coordinator, Sessions: 2, LastUsed: &used})
	}
	until := date(2026, 12, 9)
	f.people = append(f.people,
		account.Person{Staff: account.Staff{ID: account.ID{7}, Login: "front.desk", Name: "Front desk", Role: account.Clerk, Counties: []place.ID{2}}, Active: true, Link: &until},
		account.Person{Staff: account.Staff{ID: account.ID{8}, Login: "gone", Name: "Ash Moor", Role: account.Technician}})
	f.links[account.Link{7}] = account.ID{7}
	f.sessions = []account.Session{
		{ID: [16]byte{1}, Created: date(2026, 11, 2), Used: today, Current: true},
		{ID: [16]byte{2}, Created: date(2026, 10, 1), Used: date(2026, 11, 20)},
	}
	return f
}

func (f *fakeStaff) List(context.Context, time.Time) ([]account.Person, error) {
	f.hit()
	return f.people, nil
}

func (f *fakeStaff) at(id account.ID) int {
	return slices.IndexFunc(f.people, func(p account.Person) bool { return p.ID == id })
}

func (f *fakeStaff) Person(_ context.Context, id account.ID, _ time.Time) (account.Person, error) {
	f.hit()
	if i := f.at(id); i >= 0 {
		return f.people[i], nil
	}
	return account.Person{}, fault.ErrNotFound
}

func (f *fakeStaff) Assign(_ context.Context, p account.Staff, _ time.Time) error {
	f.hit()
	if f.last {
		return account.ErrLastCoordinator
	}
	f.people[f.at(p.ID)].Staff = p
	return nil
}

func (f *fakeStaff) Invite(_ context.Context, p account.Staff, l account.Link, _, expires time.Time) (account.ID, error) {
	f.hit()
	if slices.ContainsFunc(f.people, func(q account.Person) bool { return q.Login == p.Login }) {
		return account.ID{}, fault.ErrConflict
	}
	p.ID = account.ID{9, byte(len(f.people))}
	f.people = append(f.people, account.Person{Staff: p, Active: true, Link: &expires})
	f.links[l] = p.ID
	return p.ID, nil
}

func (f *fakeStaff) Invited(_ context.Context, l account.Link, _ time.Time) (account.Staff, error) {
	f.hit()
	if id, ok := f.links[l]; ok {
		return f.people[f.at(id)].Staff, nil
	}
	return account.Staff{}, fault.ErrNotFound
}

func (f *fakeStaff) Join(_ context.Context, l account.Link, hash string, _ time.Time) error {
	f.hit()
	id, ok := f.links[l]
	if !ok {
		return fault.ErrNotFound
	}
	delete(f.links, l)
	f.people[f.at(id)].Joined, f.password = true, hash
	return nil
}

func (f *fakeStaff) GiveLink(_ context.Context, id account.ID, l account.Link, _, _ time.Time) error {
	f.hit()
	if i := f.at(id); i < 0 || !f.people[i].Active {
		return fault.ErrNotFound
	}
	f.links[l] = id
	return nil
}

func (f *fakeStaff) SetActive(_ context.Context, id account.ID, active bool, _ time.Time) error {
	f.hit()
	if f.last {
		return account.ErrLastCoordinator
	}
	f.people[f.at(id)].Active = active
	return nil
}

func (f *fakeStaff) EndSessions(context.Context, account.ID, time.Time) error {
	f.hit()
	f.ended += 100
	return nil
}

func (f *fakeStaff) Half(_ context.Context, t account.Token, _ time.Time) (account.ID, string, error) {
	f.hit()
	id, ok := f.half[t]
	if f.tries++; !ok || f.tries > 5 {
		return account.ID{}, "", fault.ErrNotFound
	}
	return id, "coordinator", nil
}

func (f *fakeStaff) UseStep(_ context.Context, who account.ID, step int64) error {
	f.hit()
	s := f.second[who]
	if step <= s.Last {
		return fault.ErrConflict
	}
	s.Last = step
	f.second[who] = s
	return nil
}

func (f *fakeStaff) UseRecovery(_ context.Context, _ account.ID, c account.Recovery, _ time.Time) error {
	f.hit()
	if !f.recovery[c] {
		return fault.ErrNotFound
	}
	delete(f.recovery, c)
	return nil
}

func (f *fakeStaff) Second(_ context.Context, who account.ID) (account.Second, error) {
	f.hit()
	return f.second[who], nil
}

func (f *fakeStaff) SetSecond(_ context.Context, who account.ID, seed account.Seed, step int64, codes []account.Recovery, _ time.Time) error {
	f.hit()
	f.second[who] = account.Second{On: true, Seed: seed, Last: step, Codes: len(codes)}
	return nil
}

func (f *fakeStaff) DropSecond(_ context.Context, who account.ID, _ time.Time) error {
	f.hit()
	delete(f.second, who)
	return nil
}

func (f *fakeStaff) Sessions(context.Context, account.ID, account.Token, time.Time) ([]account.Session, error) {
	f.hit()
	return f.sessions, nil
}

func (f *fakeStaff) EndSession(context.Context, account.ID, [16]byte) error {
	f.hit()
	f.ended++
	return nil
}

func (f *fakeStaff) EndOthers(context.Context, account.ID, account.Token) error {
	f.hit()
	f.ended += 10
	return nil
}

func (f *fakeStaff) SetPassword(_ context.Context, _ account.ID, hash string, _ account.Token, _ time.Time) error {
	f.hit()
	f.password = hash
	return nil
}

func (f *fakeStaff) Required(context.Context) (bool, error) {
	f.hit()
	return f.required, nil
}

func (f *fakeStaff) Require(_ context.Context, required bool, _ time.Time) error {
	f.hit()
	f.required = required
	return nil
}

// fakeCounter has a bundle of four in county 1 (codes 0 to 3), one of two there
// (4 and 5) and one of two in county 2 (6 and 7), and keeps to the reach it is
// given, as the store does.
type fakeCounter struct {
	calls
	bundles []desk.Bundle
	tied    [][]bag.Code
	answer  sample.Answer
	asked   []account.Reach
}

func newFakeCounter() *fakeCounter {
	bundle := func(county place.ID, from ...bag.Code) desk.Bundle {
		b := desk.Bundle{ID: desk.ID{byte(county), byte(len(from))}, County: county, Season: 2026}
		for _, c := range from {
			b.Bags = append(b.Bags, desk.BundleBag{Code: c, State: bag.Issued})
		}
		return b
	}
	return &fakeCounter{
		bundles: []desk.Bundle{bundle(1, codes[:4]...), bundle(1, codes[4:6]...), bundle(2, codes[6:8]...)},
		answer: sample.Answer{Season: 2026, County: 1, Received: true,
			Result: &sample.Result{Kind: "counted", Eggs: 42, Density: 2100, Low: 1513, High: 2839, Limits: true}},
	}
}

func (f *fakeCounter) find(c bag.Code, within account.Reach) *desk.Bundle {
	f.asked = append(f.asked, within)
	for i := range f.bundles {
		for _, g := range f.bundles[i].Bags {
			if g.Code == c && within.Covers(f.bundles[i].County) {
				return &f.bundles[i]
			}
		}
	}
	return nil
}

func (f *fakeCounter) move(c bag.Code, within account.Reach, from, to bag.State) (desk.Bundle, error) {
	f.hit()
	b := f.find(c, within)
	if b == nil {
		return desk.Bundle{}, fault.ErrNotFound
	}
	b.Changed = 0
	for i := range b.Bags {
		if b.Bags[i].State == from {
			b.Bags[i].State = to
			b.Changed++
		}
	}
	out := *b
	out.Bags = slices.Clone(b.Bags)
	return out, nil
}

func (f *fakeCounter) HandOut(_ context.Context, c bag.Code, within account.Reach, _ time.Time) (desk.Bundle, error) {
	return f.move(c, within, bag.Issued, bag.HandedOut)
}

func (f *fakeCounter) TakeBack(_ context.Context, c bag.Code, within account.Reach, _ time.Time) (desk.Bundle, error) {
	return f.move(c, within, bag.HandedOut, bag.Issued)
}

func (f *fakeCounter) Tie(_ context.Context, list []bag.Code, within account.Reach, _ time.Time) ([]desk.Bundle, error) {
	f.hit()
	var out []desk.Bundle
	for _, c := range list {
		b := f.find(c, within)
		if b == nil {
			return nil, fault.ErrNotFound
		}
		if slices.ContainsFunc(b.Bags, func(g desk.BundleBag) bool { return g.State == bag.Counted }) {
			return nil, fault.ErrConflict
		}
		out = append(out, *b)
	}
	f.tied = append(f.tied, list)
	return out, nil
}

func (f *fakeCounter) Answer(_ context.Context, c bag.Code, within account.Reach, _ time.Time) (sample.Answer, error) {
	f.hit()
	if f.find(c, within) == nil {
		return sample.Answer{}, fault.ErrNotFound
	}
	return f.answer, nil
}

// fakeTrail gives as many lines as it has, and remembers what was asked.
type fakeTrail struct {
	calls
	entries []account.Entry
	queries []account.Query
}

func (f *fakeTrail) Entries(_ context.Context, q account.Query, most, skip int) ([]account.Entry, error) {
	f.hit()
	f.queries = append(f.queries, q)
	list := f.entries[min(skip, len(f.entries)):]
	return list[:min(most, len(list))], nil
}

func (f *fakeProgram) Offices(context.Context) ([]desk.Office, error) {
	f.hit()
	return f.offices, nil
}

// touched is how often any store was asked for anything.
func (w *world) touched() int {
	n := 0
	for _, s := range []interface{ touched() int }{w.program, w.people, w.season, w.soil, w.recipes, w.lab, w.lots, w.queue, w.releases, w.signoff, w.trays, w.twins, w.methods, w.uploads, w.indicators, w.slips, w.histories,
		w.counter, w.staff, w.trail, w.ledger, w.sheets, w.ground, w.outlooks, w.mailbox} {
		n += s.touched()
	}
	return n
}
