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

// Add makes a member of staff. fault.ErrConflict: the login is taken.
func (s *People) Add(ctx context.Context, p account.Staff, passwordHash string) (err error) {
	defer wrap(&err, "People.Add")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var id [16]byte
		err := tx.QueryRow(ctx, `
			INSERT INTO priv.staff (login, name, hash, role)
			VALUES ($1, $2, $3, $4)
			ON CONFLICT (login) DO NOTHING
			RETURNING id`, p.Login, p.Name, passwordHash, string(p.Role)).Scan(&id)
		if err == pgx.ErrNoRows {
			return fault.ErrConflict
		}
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			INSERT INTO priv.staff_county (staff, county)
			SELECT $1, c FROM unnest($2::int[]) c`, id, ids(p.Counties))
		return err
	})
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

// sessionDays is how long an unused session lives.
const sessionDays = 30

// SignIn starts a session.
func (s *People) SignIn(ctx context.Context, who account.ID, t account.Token, today time.Time) (err error) {
	defer wrap(&err, "People.SignIn")
	hash := t.Hash()
	_, err = s.db.Exec(ctx, `
		INSERT INTO priv.session (hash, staff, created, used)
		VALUES ($1, $2, $3, $3)`, hash[:], [16]byte(who), today)
	return err
}

// Session finds who holds a token. It writes at most once a day: the last used
// day is all that is kept. fault.ErrNotFound: nobody, or too long ago.
func (s *People) Session(ctx context.Context, t account.Token, today time.Time) (_ account.Staff, err error) {
	defer wrap(&err, "People.Session")
	hash := t.Hash()
	var (
		p        account.Staff
		id       [16]byte
		role     string
		counties []int32
		used     time.Time
	)
	err = s.db.QueryRow(ctx, `
		SELECT st.id, st.login, st.name, st.role, se.used,
		       ARRAY(SELECT county FROM priv.staff_county c WHERE c.staff = st.id ORDER BY county)
		  FROM priv.session se
		  JOIN priv.staff st ON st.id = se.staff AND st.active
		 WHERE se.hash = $1 AND se.used > $2::date - $3::int`, hash[:], today, sessionDays).
		Scan(&id, &p.Login, &p.Name, &role, &used, &counties)
	if err != nil {
		return account.Staff{}, err
	}
	p.ID, p.Role = account.ID(id), account.Role(role)
	for _, c := range counties {
		p.Counties = append(p.Counties, place.ID(c))
	}
	if used.Before(today) {
		_, err = s.db.Exec(ctx, `UPDATE priv.session SET used = $2 WHERE hash = $1`, hash[:], today)
	}
	return p, err
}

// SignOut ends a session.
func (s *People) SignOut(ctx context.Context, t account.Token) (err error) {
	defer wrap(&err, "People.SignOut")
	hash := t.Hash()
	_, err = s.db.Exec(ctx, `DELETE FROM priv.session WHERE hash = $1`, hash[:])
	return err
}
