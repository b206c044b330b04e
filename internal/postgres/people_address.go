package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/fault"
)

// Address is where mail reaches somebody; empty where no address is kept.
func (s *People) Address(ctx context.Context, who account.ID) (a account.Address, err error) {
	defer wrap(&err, "People.Address")
	err = s.db.QueryRow(ctx, `SELECT address FROM priv.staff_address WHERE staff = $1`, [16]byte(who)).Scan((*string)(&a))
	if err == pgx.ErrNoRows {
		return "", nil
	}
	return a, err
}

// SetAddress keeps somebody's address, or none, and gives the one before. A link
// that was sent to that opens nothing any more. fault.ErrNotFound: nobody, or a
// closed account.
func (s *People) SetAddress(ctx context.Context, who account.ID, a account.Address, today time.Time) (before account.Address, err error) {
	defer wrap(&err, "People.SetAddress")
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		var login string
		err := tx.QueryRow(ctx, `
			SELECT login, coalesce((SELECT address FROM priv.staff_address a WHERE a.staff = st.id), '')
			  FROM priv.staff st WHERE id = $1 AND active FOR UPDATE`, [16]byte(who)).Scan(&login, (*string)(&before))
		if err != nil || before == a {
			return err
		}
		if _, err := tx.Exec(ctx, `DELETE FROM priv.staff_address WHERE staff = $1`, [16]byte(who)); err != nil {
			return err
		}
		if a != "" {
			if _, err := tx.Exec(ctx, `INSERT INTO priv.staff_address (staff, address) VALUES ($1, $2)`, [16]byte(who), string(a)); err != nil {
				return err
			}
		}
		if err := dropReset(ctx, tx, who); err != nil {
			return err
		}
		return note(ctx, tx, account.DidAddress, today, account.Detail{Person: login})
	})
	return before, err
}

// ForgetAddresses removes every address, for a server that sends no mail, and
// says how many there were.
func (s *People) ForgetAddresses(ctx context.Context) (n int, err error) {
	defer wrap(&err, "People.ForgetAddresses")
	tag, err := s.db.Exec(ctx, `DELETE FROM priv.staff_address`)
	return int(tag.RowsAffected()), err
}

// AskReset keeps a link to a new password and says where to send it. It takes
// the place of the one before. fault.ErrNotFound: nobody of this login has a
// password and an address, or as many as may be have been sent today.
func (s *People) AskReset(ctx context.Context, login string, l account.Link, now, today time.Time) (to account.Address, err error) {
	defer wrap(&err, "People.AskReset")
	hash := l.Hash()
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		var id account.ID
		err := tx.QueryRow(ctx, `
			INSERT INTO priv.reset AS r (staff, hash, until, day, sent)
			SELECT st.id, $2, $3, $4, 1
			  FROM priv.staff st
			  JOIN priv.staff_address a ON a.staff = st.id
			 WHERE st.login = $1 AND st.active AND st.hash <> ''
			ON CONFLICT (staff) DO UPDATE
			   SET hash = excluded.hash, until = excluded.until, day = excluded.day,
			       sent = CASE WHEN r.day = excluded.day THEN r.sent + 1 ELSE 1 END
			 WHERE r.day <> excluded.day OR r.sent < $5
			RETURNING r.staff, (SELECT address FROM priv.staff_address a WHERE a.staff = r.staff)`,
			login, hash[:], now.Add(account.ResetWithin), today, account.ResetsADay).Scan((*[16]byte)(&id), (*string)(&to))
		if err != nil {
			return err
		}
		return noteBy(ctx, tx, account.DidAskReset, today, account.Detail{}, id)
	})
	return to, err
}

// ResetFor tells whose link this is. fault.ErrNotFound: it never was one, it has
// been used, another way to a password came after it, or its time is over.
func (s *People) ResetFor(ctx context.Context, l account.Link, now time.Time) (p account.Staff, err error) {
	defer wrap(&err, "People.ResetFor")
	hash := l.Hash()
	err = s.db.QueryRow(ctx, `
		SELECT st.id, st.login, st.name, st.role
		  FROM priv.reset r
		  JOIN priv.staff st ON st.id = r.staff AND st.active
		 WHERE r.hash = $1 AND r.until > $2`, hash[:], now).
		Scan((*[16]byte)(&p.ID), &p.Login, &p.Name, (*string)(&p.Role))
	return p, err
}

// Reset uses up a link that was sent by mail: the password is set and every
// session ends. A second step stays: who reads somebody's mail has not got the
// phone. fault.ErrNotFound as ResetFor.
func (s *People) Reset(ctx context.Context, l account.Link, passwordHash string, now, today time.Time) (err error) {
	defer wrap(&err, "People.Reset")
	hash := l.Hash()
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var id account.ID
		err := tx.QueryRow(ctx, `
			UPDATE priv.reset r SET hash = NULL
			  FROM priv.staff st
			 WHERE r.hash = $1 AND r.until > $2 AND st.id = r.staff AND st.active
			RETURNING st.id`, hash[:], now).Scan((*[16]byte)(&id))
		if err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, `UPDATE priv.staff SET hash = $2 WHERE id = $1`, [16]byte(id), passwordHash)
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			return fault.ErrNotFound
		}
		if _, err := tx.Exec(ctx, `DELETE FROM priv.session WHERE staff = $1`, [16]byte(id)); err != nil {
			return err
		}
		return noteBy(ctx, tx, account.DidReset, today, account.Detail{}, id)
	})
}

// dropReset makes a link that was sent by mail open nothing any more.
func dropReset(ctx context.Context, tx pgx.Tx, who account.ID) error {
	_, err := tx.Exec(ctx, `UPDATE priv.reset SET hash = NULL WHERE staff = $1`, [16]byte(who))
	return err
}
