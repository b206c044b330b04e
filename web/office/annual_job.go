package office

import (
	"bytes"
	"context"
	"errors"
	"io"
	"time"

	"sixmile/internal/annual"
	"sixmile/internal/annual/parcel"
	"sixmile/internal/annual/tally"
	"sixmile/internal/assay"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
)

// Yearbook is what the annual summary is made of.
type Yearbook struct {
	Issues Issues
	Years  Years
	Land   parcel.Land
}

// Issues reads released editions.
type Issues interface {
	Latest(ctx context.Context) (int, error) // 0 before the first
	Issue(ctx context.Context, no int) (*gazette.Issue, error)
}

// Years has the office's own figures of a year.
type Years interface {
	// Season: fault.ErrNotFound when there is none of that year.
	Season(ctx context.Context, year int) (annual.Period, error)
	Figures(ctx context.Context, p annual.Period, on time.Time, scheme assay.Scheme) (tally.Figures, error)
	// Note writes into the trail that a copy was made.
	Note(ctx context.Context, edition int, today time.Time) error
}

// summary is one copy of the annual summary, being made or made. It goes when newer
// ones push it out.
type summary = held[summaryState]

type summaryState struct {
	name   annual.Name
	period annual.Period
	bill   tally.Bill

	done, of int
	file     string // being written
	ready    bool
	failed   bool
	saveAs   string
	body     []byte
	match    *tally.Match // of the office's copy, where there are invoices
}

const (
	// mostSummaries bounds those held, and mostSummary the bytes of each: a nation's
	// is some 60 MB.
	mostSummaries = 3
	mostSummary   = 256 << 20
	// summaryPatience is how long one may take.
	summaryPatience = 15 * time.Minute
)

// makeSummary makes one in its turn, apart from the request that asked for it.
func (o *office) makeSummary(ctx context.Context, s *summary, x *gazette.Index) {
	o.copies.run(ctx, summaryPatience, func(ctx context.Context) error { return o.fillSummary(ctx, s, x) }, func(err error) {
		s.set(func(s *summaryState) { s.ready, s.failed = err == nil, err != nil })
		if err != nil {
			o.Log.Error("annual summary", "error", err)
		}
	})
}

// fillSummary makes the copy that was asked for. Each of the three has its own
// type; this is where the name of one becomes it.
func (o *office) fillSummary(ctx context.Context, s *summary, x *gazette.Index) error {
	want := s.look()
	b, err := annual.ForPublic(o.Lang, x, want.period)
	if err != nil {
		return err
	}
	if want.name == annual.PublicName {
		return writeSummary(ctx, o, s, b)
	}
	f, err := o.Years.Figures(ctx, want.period, o.Today(), x.Issue.Scheme)
	if err != nil {
		return err
	}
	f.Bill = want.bill
	switch want.name {
	case annual.SponsorName:
		return writeSummary(ctx, o, s, annual.ForSponsor(b, annual.SponsorSheet(o.Lang, b, f.ForSponsor(x, want.period), f.Bill.Fee)))
	case annual.OfficeName:
		if len(f.Bill.Invoices) > 0 {
			m := f.Bill.Match(f.Counted())
			s.set(func(s *summaryState) { s.match = &m })
		}
		return writeSummary(ctx, o, s, annual.ForOffice(b, f.Sheets(o.Lang, x)...))
	}
	return fault.ErrNotFound
}

func writeSummary[C annual.Copy](ctx context.Context, o *office, s *summary, b annual.Book[C]) error {
	var out bounded
	err := parcel.Write(ctx, &out, b, parcel.Options{
		Lang: o.Lang, Program: parcel.Program{Name: o.About.Name, State: o.About.State, Invented: o.About.Invented},
		Land: o.Land, AsOf: o.Today(),
		Progress: func(done, of int, file string) {
			s.set(func(s *summaryState) { s.done, s.of, s.file = done, of, file })
		},
	})
	if err != nil {
		return err
	}
	if err := o.Years.Note(ctx, b.Edition().Number, o.Today()); err != nil {
		return err
	}
	s.set(func(s *summaryState) { s.saveAs, s.body = parcel.FileName(b), out.Bytes() })
	return nil
}

// bounded is a buffer that does not grow without end.
type bounded struct{ bytes.Buffer }

var errTooLarge = errors.New("office: the summary is too large to be held; make it by command")

// Write fails where the file would be too large.
func (b *bounded) Write(p []byte) (int, error) {
	if b.Len()+len(p) > mostSummary {
		return 0, errTooLarge
	}
	return b.Buffer.Write(p)
}

var _ io.Writer = (*bounded)(nil)
