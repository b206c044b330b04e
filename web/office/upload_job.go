package office

import (
	"context"
	"errors"
	"strconv"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/tabular"
)

// Uploads takes in files of counts.
type Uploads interface {
	Memory(ctx context.Context) (tabular.Memory, error)
	Remember(ctx context.Context, m tabular.Memory) error
	// Taken is the day on which a file that says the same was taken; zero for none.
	Taken(ctx context.Context, digest string) (time.Time, error)
	Targets(ctx context.Context, codes []bag.Code) (desk.Targets, error)
	// Accept: all or nothing. fault.ErrConflict when a bag has changed meanwhile; a
	// file that was taken before changes nothing and gives 0.
	Accept(ctx context.Context, digest string, results []desk.Keyed, by account.ID, today time.Time) (int, error)
}

// draft is a file that was sent and is not taken yet. It goes when it is taken,
// given up, or pushed out by newer ones.
type draft = held[draftState]

type draftState struct {
	progress
	Name    string
	Verdict verdict
	Took    int
	sheet   *tabular.Sheet
	mapping tabular.Mapping
	with    tabular.Setup
	why     assay.Correction // of rows that take another's place
}

// mostDrafts is how many files are held at once, each at most tabular.MaxFile and
// what it unpacks to.
const mostDrafts = 3

// expected tells the failures that are said in words.
func expected(err error) bool {
	var file *tabular.FileError
	var invalid *assay.Invalid
	return errors.As(err, &file) || errors.As(err, &invalid) || errors.Is(err, fault.ErrConflict)
}

// take stores a draft.
func (o *office) take(ctx context.Context, d *draft) error {
	v := d.look().Verdict
	n, err := o.Uploads.Accept(ctx, v.digest, v.results, d.owner, o.Today())
	if err != nil {
		return err
	}
	d.set(func(d *draftState) {
		d.Took, d.Verdict.results = n, nil
		d.sheet = nil // the file itself goes; what it came to stays to be shown
	})
	o.Log.Info("counts uploaded", "n", n)
	return nil
}

// columnKey is how a form names what a column holds: its field, and for a
// density its unit.
func columnKey(c tabular.Column) string {
	if c.Field == tabular.Density && c.Unit != 0 {
		return string(c.Field) + "." + strconv.Itoa(int(c.Unit))
	}
	return string(c.Field)
}
