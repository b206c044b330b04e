package office

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"sync"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
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

// stage is how far a file has come.
type stage string

// The stages.
const (
	stageReading stage = "reading" // its rows get their verdicts
	stageRead    stage = "read"
	stageStoring stage = "storing"
	stageTaken   stage = "taken"
	stageFailed  stage = "failed"
)

// draft is a file that was sent and is not taken yet. It is held in memory and
// goes when it is taken, given up, or pushed out by newer ones.
type draft struct {
	mu      sync.Mutex
	owner   account.ID
	Name    string
	sheet   *tabular.Sheet
	mapping tabular.Mapping
	with    tabular.Setup
	why     assay.Correction // of rows that take another's place
	stage   stage
	done    int
	verdict verdict
	took    int
	failed  error
}

// look is a consistent view of a draft.
type look struct {
	Stage   stage
	Done    int
	Verdict verdict
	Took    int
	Failed  error
	sheet   *tabular.Sheet
	mapping tabular.Mapping
	with    tabular.Setup
	why     assay.Correction
}

func (d *draft) look() look {
	d.mu.Lock()
	defer d.mu.Unlock()
	return look{d.stage, d.done, d.verdict, d.took, d.failed, d.sheet, d.mapping, d.with, d.why}
}

func (d *draft) set(change func(*draft)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	change(d)
}

// drafts is the files of all people, bounded, and the turn in which files are
// read: one at a time.
type drafts struct {
	mu   sync.Mutex
	list []heldDraft // oldest first
	turn chan struct{}
}

type heldDraft struct {
	token sample.Token
	*draft
}

// mostDrafts is how many files are held at once, each at most tabular.MaxFile and
// what it unpacks to.
const mostDrafts = 3

func newDrafts() *drafts { return &drafts{turn: make(chan struct{}, 1)} }

func (s *drafts) add(token sample.Token, d *draft) {
	s.mu.Lock()
	defer s.mu.Unlock()
	// A person's new file takes the place of that person's old one.
	s.list = slices.DeleteFunc(s.list, func(h heldDraft) bool { return h.owner == d.owner })
	s.list = append(s.list, heldDraft{token, d})
	if over := len(s.list) - mostDrafts; over > 0 {
		s.list = slices.Delete(s.list, 0, over)
	}
}

// find gives a person's own draft. fault.ErrNotFound: it is gone, or another's.
func (s *drafts) find(token string, owner account.ID) (*draft, error) {
	t, err := sample.ParseToken(token)
	if err != nil {
		return nil, fault.ErrNotFound
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, h := range s.list {
		if h.token == t && h.owner == owner {
			return h.draft, nil
		}
	}
	return nil, fault.ErrNotFound
}

func (s *drafts) drop(d *draft) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.list = slices.DeleteFunc(s.list, func(h heldDraft) bool { return h.draft == d })
}

// errBusy: the draft is being read or stored just now.
var errBusy = errors.New("office: the file is being worked on")

// begin moves a draft on to a stage, unless it is worked on.
func (d *draft) begin(to stage) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.stage == stageReading || d.stage == stageStoring {
		return errBusy
	}
	d.stage, d.done, d.failed = to, 0, nil
	return nil
}

// work runs a step of a draft in its turn, apart from the request that asked for
// it, and notes how it ended.
func (o *office) work(ctx context.Context, d *draft, step func(ctx context.Context) error, then stage) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Minute)
	go func() {
		defer cancel()
		o.drafts.turn <- struct{}{}
		err := step(ctx)
		<-o.drafts.turn
		d.set(func(d *draft) {
			if d.failed = err; err != nil {
				d.stage = stageFailed
				return
			}
			d.stage = then
		})
		if err != nil && !expected(err) {
			o.Log.Error("upload", "error", err)
		}
	}()
}

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
	d.set(func(d *draft) {
		d.took, d.verdict.results = n, nil
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
