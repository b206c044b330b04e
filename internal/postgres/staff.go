package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/internal/place"
)

// People is the office's staff and their sessions, over a Staff connection.
type People struct{ db DB }

// NewPeople makes the store.
func NewPeople(db DB) *People { return &People{db} }

// Add makes a member of staff with a password. fault.ErrConflict: the login is
// taken.
func (s *People) Add(ctx context.Context, p account.Staff, passwordHash string) (err error) {
	defer wrap(&err, "People.Add")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		if _, err := addStaff(ctx, tx, p, passwordHash); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `
			SELECT priv.note($1, current_date, jsonb_build_object('person', $2::text, 'role', $3::text), NULL)`,
			string(account.DidAdd), p.Login, string(p.Role))
		return err
	})
}

func addStaff(ctx context.Context, tx pgx.Tx, p account.Staff, passwordHash string) (id account.ID, err error) {
	err = tx.QueryRow(ctx, `
		INSERT INTO priv.staff (login, name, hash, role)
		VALUES ($1, $2, $3, $4)
		ON CONFLICT (login) DO NOTHING
		RETURNING id`, p.Login, p.Name, passwordHash, string(p.Role)).Scan((*[16]byte)(&id))
	if err == pgx.ErrNoRows {
		return id, fault.ErrConflict
	}
	if err != nil {
		return id, err
	}
	return id, setCounties(ctx, tx, id, p.Counties)
}

func setCounties(ctx context.Context, tx pgx.Tx, who account.ID, counties []place.ID) error {
	if _, err := tx.Exec(ctx, `DELETE FROM priv.staff_county WHERE staff = $1`, [16]byte(who)); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO priv.staff_county (staff, county)
		SELECT $1, c FROM unnest($2::int[]) c`, [16]byte(who), ids(counties))
	return err
}

// Password gives the stored form of an active person's password, for a sign-in.
// Empty with no error: no such person, which the asker must not learn.
func (s *People) Password(ctx context.Context, login string) (_ account.ID, hash string, err error) {
	defer wrap(&err, "People.Password")
	var id [16]byte
	err = s.db.QueryRow(ctx, `SELECT id, hash FROM priv.staff WHERE login = $1 AND active`, login).Scan(&id, &hash)
	if err == pgx.ErrNoRows {
		return account.ID{}, "", nil
	}
	return account.ID(id), hash, err
}

const (
	// sessionDays is how long an unused session lives.
	sessionDays = 30
	// halfTries is how many second-step codes one password buys.
	halfTries = 5
)

// SignIn starts a session. A half one opens nothing but the second step.
func (s *People) SignIn(ctx context.Context, who account.ID, t account.Token, half bool, today time.Time) (err error) {
	defer wrap(&err, "People.SignIn")
	hash := t.Hash()
	_, err = s.db.Exec(ctx, `
		INSERT INTO priv.session (hash, staff, half, created, used)
		VALUES ($1, $2, $3, $4, $4)`, hash[:], [16]byte(who), half, today)
	return err
}

// Session finds who holds a token. It writes at most once a day: the last used
// day is all that is kept. fault.ErrNotFound: nobody, or too long ago.
func (s *People) Session(ctx context.Context, t account.Token, today time.Time) (_ account.Staff, err error) {
	defer wrap(&err, "People.Session")
	hash := t.Hash()
	var (
		p        account.Staff
		used     time.Time
		counties []int32
	)
	err = s.db.QueryRow(ctx, `
		SELECT st.id, st.login, st.name, st.role, se.used,
		       st.seed IS NULL AND (SELECT second FROM priv.house),
		       ARRAY(SELECT county FROM priv.staff_county c WHERE c.staff = st.id ORDER BY county)
		  FROM priv.session se
		  JOIN priv.staff st ON st.id = se.staff AND st.active
		 WHERE se.hash = $1 AND NOT se.half AND se.used > $2::date - $3::int`, hash[:], today, sessionDays).
		Scan((*[16]byte)(&p.ID), &p.Login, &p.Name, (*string)(&p.Role), &used, &p.Owes, &counties)
	if err != nil {
		return account.Staff{}, err
	}
	p.Counties = places(counties)
	if used.Before(today) {
		_, err = s.db.Exec(ctx, `UPDATE priv.session SET used = $2 WHERE hash = $1`, hash[:], today)
	}
	return p, err
}

// Half finds who has given the password and not yet the second step, and spends
// one of the tries that a password buys. fault.ErrNotFound: nobody, another day,
// or all tries are spent: the password is asked for again.
func (s *People) Half(ctx context.Context, t account.Token, today time.Time) (_ account.ID, login string, err error) {
	defer wrap(&err, "People.Half")
	hash := t.Hash()
	var id [16]byte
	err = s.db.QueryRow(ctx, `
		UPDATE priv.session se
		   SET tries = tries + 1
		  FROM priv.staff st
		 WHERE se.hash = $1 AND se.half AND se.created = $2 AND se.tries < $3
		   AND st.id = se.staff AND st.active
		RETURNING st.id, st.login`, hash[:], today, halfTries).Scan(&id, &login)
	return account.ID(id), login, err
}

// SignOut ends a session.
func (s *People) SignOut(ctx context.Context, t account.Token) (err error) {
	defer wrap(&err, "People.SignOut")
	hash := t.Hash()
	_, err = s.db.Exec(ctx, `DELETE FROM priv.session WHERE hash = $1`, hash[:])
	return err
}

func places(in []int32) []place.ID {
	var out []place.ID
	for _, c := range in {
		out = append(out, place.ID(c))
	}
	return out
}
