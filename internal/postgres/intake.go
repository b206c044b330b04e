package postgres

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"sixmile/internal/bag"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// Intake is what the form and the answer page do, over the public role's
// connection: it can call three functions and cannot read a sample.
type Intake struct {
	db       DB
	together *together // nil within a transaction
}

// NewIntake makes the store over a pool of the Public login, or for one visit
// within a transaction. Over a pool, visits that come at one time are stored
// together: they wait for the disk once.
func NewIntake(db DB) *Intake {
	s := &Intake{db: db}
	if pool, ok := db.(*Pool); ok {
		s.together = newTogether(func(ctx context.Context, calls []takeCall, hurried bool) error {
			return takeAll(ctx, pool, calls, hurried)
		})
	}
	return s
}

type visitSender struct {
	Standing int        `json:"standing"`
	Bags     []visitBag `json:"bags"`
}

type visitBag struct {
	Code    string         `json:"code"`
	Place   int32          `json:"place"`
	Season  int            `json:"season"`
	Day     string         `json:"day"`
	Answers sample.Answers `json:"answers"`
	Key     string         `json:"key"`
}

// Take stores a visit, durably, once: the same visit again changes nothing, or
// mends what the lab has not counted yet. Whether a code is known is not told.
func (s *Intake) Take(ctx context.Context, v sample.Visit, today time.Time) (err error) {
	defer wrap(&err, "Intake.Take")
	senders := make([]visitSender, 0, len(v.Senders))
	for _, in := range v.Senders {
		out := visitSender{Standing: int(in.Standing)}
		for _, b := range in.Bags {
			key := v.Token.Secret(b.Code).Hash()
			out.Bags = append(out.Bags, visitBag{
				Code: string(b.Code), Place: int32(b.Place), Season: b.Season,
				Day: b.Day.Format(time.DateOnly), Answers: b.Answers, Key: hex.EncodeToString(key[:]),
			})
		}
		senders = append(senders, out)
	}
	doc, err := json.Marshal(senders)
	if err != nil {
		return err
	}
	token := v.Token.Hash()
	call := takeCall{token[:], today, string(doc)}
	if s.together != nil {
		return s.together.do(ctx, call)
	}
	return untilTaken(func() error {
		_, err := s.db.Exec(ctx, takeVisit, call...)
		return err
	})
}

// takeCall is what takeVisit is called with.
type takeCall []any

const (
	takeVisit = `SELECT open.take_visit($1, $2, $3)`
	hurry     = `SELECT set_config('lock_timeout', '300ms', true)`
	locked    = "55P03" // what came after hurry has waited as long
)

// takeAll stores visits in one transaction, which ends on the disk once: all of
// them or none. Hurried, it does not wait for what others hold locked.
func takeAll(ctx context.Context, pool *Pool, calls []takeCall, hurried bool) error {
	return untilTaken(func() error {
		var b pgx.Batch
		if hurried {
			b.Queue(hurry)
		}
		for _, c := range calls {
			b.Queue(takeVisit, c...)
		}
		return pool.SendBatch(ctx, &b).Close()
	})
}

// untilTaken tries once more where the database refuses one of two that wait for each
// other: nothing of theirs is stored, and a visit that is sent again is taken once.
func untilTaken(take func() error) (err error) {
	for try := 1; ; try++ {
		err = take()
		var pg *pgconn.PgError
		if try == takeTries || !errors.As(err, &pg) || pg.Code != deadlock {
			return err
		}
	}
}

// takeTries is how often a visit is offered to a database that refuses it for a
// deadlock.
const (
	takeTries = 4
	deadlock  = "40P01"
)

// Answer is what the holder of a secret may read. fault.ErrNotFound: no such secret.
func (s *Intake) Answer(ctx context.Context, secret sample.Secret) (_ sample.Answer, err error) {
	defer wrap(&err, "Intake.Answer")
	hash := secret.Hash()
	return scanAnswer(s.db.QueryRow(ctx, `SELECT `+answerColumns+` FROM open.give_answer($1)`, hash[:]))
}

// StubAnswer is what the holder of a bag's stub may read: its code and its words
// open the answer too. fault.ErrNotFound, and nothing that tells which: other
// words than the code has, a code that nobody has, a bag of which no form has
// come, or more than bag.StubTries tries of a code on a day.
func (s *Intake) StubAnswer(ctx context.Context, code bag.Code, words bag.Words, today time.Time) (_ sample.Answer, err error) {
	defer wrap(&err, "Intake.StubAnswer")
	return scanAnswer(s.db.QueryRow(ctx, `SELECT `+answerColumns+` FROM open.give_stub_answer($1, $2, $3)`,
		string(code), int64(words), today))
}

const answerColumns = `season, county, received, held, kind, method, eggs, density, low, high, cyst, juveniles, limits_by, changed, follow`

func scanAnswer(row pgx.Row) (sample.Answer, error) {
	var (
		a         sample.Answer
		county    int32
		kind      *string
		method    *int
		eggs      *int
		density   *float64
		low, high *float64
		cyst      *bool
		juveniles *bool
		limitsBy  *string
		follow    *string
	)
	err := row.Scan(&a.Season, &county, &a.Received, &a.Held, &kind, &method, &eggs, &density, &low, &high, &cyst, &juveniles, &limitsBy, &a.Changed, &follow)
	if err != nil {
		return sample.Answer{}, err
	}
	a.County = place.ID(county)
	if kind != nil {
		a.Result = &sample.Result{Kind: *kind, Density: *density, Method: *method, Cyst: *cyst, Juveniles: *juveniles}
		if eggs != nil {
			a.Result.Eggs = *eggs
		}
		if low != nil && high != nil {
			a.Result.Low, a.Result.High, a.Result.Limits = *low, *high, true
		}
		if limitsBy != nil {
			a.Result.LimitsBy = *limitsBy
		}
	}
	if follow != nil {
		a.Follow = bag.Code(*follow)
	}
	return a, nil
}
