package office

import (
	"context"
	"fmt"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
)

// fakeLedger is two editions with three groups, of which one is taken back.
type fakeLedger struct {
	calls
	groups  []desk.Group
	again   desk.Again
	amended []int
	gone    map[int]bool // withdrawn
	differs bool
	none    bool // no edition yet
}

func newFakeLedger() *fakeLedger {
	return &fakeLedger{gone: map[int]bool{}, groups: []desk.Group{
		{Tranche: edition.Tranche{Edition: 11, ID: 4, County: 1, Kind: edition.KindTownship, Places: []place.ID{11}, Senders: 3, Samples: 7,
			Window: edition.Window{ThisFall: true, Through: 2025}}, Released: date(2026, 1, 9)},
		{Tranche: edition.Tranche{Edition: 11, ID: 5, County: 1, Kind: edition.KindDistrict, Places: []place.ID{11, 12}, Senders: 3, Samples: 5,
			Window: edition.Window{Through: 2025}}, Released: date(2026, 1, 9)},
		{Tranche: edition.Tranche{Edition: 10, ID: 2, County: 2, Kind: edition.KindTownship, Places: []place.ID{21}, Senders: 3, Samples: 9},
			Released: date(2025, 1, 8), Recalled: true, Reason: desk.WrongPlace, Day: date(2026, 11, 3), Why: edition.BackUnmended},
	}}
}

func (f *fakeLedger) List(context.Context) ([]gazette.Listed, error) {
	f.hit()
	if f.none {
		return nil, nil
	}
	return []gazette.Listed{
		{Edition: gazette.Edition{Number: 10, Code: "AAAA-22", Kind: edition.Release, Season: 2024, Released: date(2025, 1, 8)}, Scheme: "Ohio", Recalled: 1},
		{Edition: gazette.Edition{Number: 11, Code: "K7QF-2M", Kind: edition.Release, Season: 2025, Released: date(2026, 1, 9)}, Scheme: "Ohio", Withdrawn: f.gone[11]},
	}, nil
}

func (f *fakeLedger) Find(_ context.Context, code string) (int, error) {
	f.hit()
	if code == "k7qf2m" {
		return 11, nil
	}
	return 0, fault.ErrNotFound
}

func (f *fakeLedger) Verify(_ context.Context, no int) (gazette.Proof, error) {
	f.hit()
	p := gazette.Proof{Number: no, Results: 1204}
	if f.differs {
		p.Wrong = []string{"11/4"}
	}
	return p, nil
}

func (f *fakeLedger) Text(_ context.Context, no int) ([]byte, error) {
	f.hit()
	if no != 11 {
		return nil, fault.ErrNotFound
	}
	return fmt.Appendf(nil, "edition %d\n", no), nil
}

func (f *fakeLedger) Withdraw(_ context.Context, no int, _ desk.RecallReason, _ time.Time) error {
	f.hit()
	if f.gone[no] {
		return fault.ErrConflict
	}
	f.gone[no] = true
	return nil
}

func (f *fakeLedger) Groups(_ context.Context, county place.ID, _ time.Time) (out []desk.Group, err error) {
	f.hit()
	for _, g := range f.groups {
		if county == 0 && g.Recalled || county == g.County {
			out = append(out, g)
		}
	}
	return out, nil
}

func (f *fakeLedger) Recall(_ context.Context, of edition.Ref, why desk.RecallReason, day time.Time, _ account.ID) error {
	f.hit()
	for i, g := range f.groups {
		if g.Ref() == of && !g.Recalled {
			f.groups[i].Recalled, f.groups[i].Reason, f.groups[i].Day = true, why, day
			return nil
		}
	}
	return fault.ErrConflict
}

func (f *fakeLedger) Errata(context.Context, time.Time) (desk.Again, error) {
	f.hit()
	return f.again, nil
}

func (f *fakeLedger) Amend(_ context.Context, number int, _ time.Time, stamp string, _ account.ID) (gazette.Edition, error) {
	f.hit()
	if stamp != f.again.Stamp {
		return gazette.Edition{}, fault.ErrConflict
	}
	f.amended = append(f.amended, number)
	return gazette.Edition{Number: number, Code: "ZZZZ-33"}, nil
}
