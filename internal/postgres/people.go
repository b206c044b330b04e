package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/account"
	"sixmile/internal/fault"
)

// List gives everybody, those who work before those who do not any more.
func (s *People) List(ctx context.Context, today time.Time) (_ []account.Person, err error) {
	defer wrap(&err, "People.List")
	rows, err := s.db.Query(ctx, peopleSQL+` ORDER BY st.active DESC, st.name, st.login`, today, sessionDays)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, scanPerson)
}

// Person gives one of them. fault.ErrNotFound: there is nobody of this number.
func (s *People) Person(ctx context.Context, id account.ID, today time.Time) (_ account.Person, err error) {
	defer wrap(&err, "People.Person")
	rows, err := s.db.Query(ctx, peopleSQL+` WHERE st.id = $3`, today, sessionDays, [16]byte(id))
	if err != nil {
		return account.Person{}, err
	}
	return pgx.CollectExactlyOneRow(rows, scanPerson)
}

const peopleSQL = `
	SELECT st.id, st.login, st.name, st.role, st.active, st.hash <> '', st.seed IS NOT NULL,
	       ARRAY(SELECT county FROM priv.staff_county c WHERE c.staff = st.id ORDER BY county),
	       (SELECT expires FROM priv.link l WHERE l.staff = st.id AND l.expires >= $1),
	       (SELECT count(*) FROM priv.session se WHERE se.staff = st.id AND NOT se.half AND se.used > $1::date - $2::int),
	       (SELECT max(used) FROM priv.session se WHERE se.staff = st.id AND NOT se.half AND se.used > $1::date - $2::int)
	  FROM priv.staff st`

func scanPerson(row pgx.CollectableRow) (account.Person, error) {
	var p account.Person
	var counties []int32
	err := row.Scan((*[16]byte)(&p.ID), &p.Login, &p.Name, (*string)(&p.Role), &p.Active, &p.Joined, &p.Second,
		&counties, &p.Link, &p.Sessions, &p.LastUsed)
	p.Counties = places(counties)
	return p, err
}

// Invite makes a person who has no password yet and the link to set one, good
// through the day expires. fault.ErrConflict: the login is taken.
func (s *People) Invite(ctx context.Context, p account.Staff, l account.Link, today, expires time.Time) (_ account.ID, err error) {
	defer wrap(&err, "People.Invite")
	var id account.ID
	err = inTx(ctx, s.db, func(tx pgx.Tx) error {
		var err error
		if id, err = addStaff(ctx, tx, p, ""); err != nil {
			return err
		}
		if err := giveLink(ctx, tx, id, l, expires); err != nil {
			return err
		}
		return note(ctx, tx, account.DidInvite, today, account.Detail{Person: p.Login, Role: p.Role})
	})
	return id, err
}

// GiveLink makes a new link to a password for somebody; an older one opens
// nothing any more. fault.ErrNotFound: nobody, or an account that is closed.
func (s *People) GiveLink(ctx context.Context, id account.ID, l account.Link, today, expires time.Time) (err error) {
	defer wrap(&err, "People.GiveLink")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var login string
		err := tx.QueryRow(ctx, `SELECT login FROM priv.staff WHERE id = $1 AND active FOR UPDATE`, [16]byte(id)).Scan(&login)
		if err != nil {
			return err
		}
		if err := giveLink(ctx, tx, id, l, expires); err != nil {
			return err
		}
		if err := dropReset(ctx, tx, id); err != nil {
			return err
		}
		return note(ctx, tx, account.DidLink, today, account.Detail{Person: login})
	})
}

func giveLink(ctx context.Context, tx pgx.Tx, id account.ID, l account.Link, expires time.Time) error {
	hash := l.Hash()
	_, err := tx.Exec(ctx, `
		INSERT INTO priv.link (staff, hash, expires) VALUES ($1, $2, $3)
		ON CONFLICT (staff) DO UPDATE SET hash = excluded.hash, expires = excluded.expires`,
		[16]byte(id), hash[:], expires)
	return err
}

// Invited tells whose link this is. fault.ErrNotFound: it never was one, it has
// been used, a newer one was made, or its days are over.
func (s *People) Invited(ctx context.Context, l account.Link, today time.Time) (_ account.Staff, err error) {
	defer wrap(&err, "People.Invited")
	hash := l.Hash()
	var p account.Staff
	err = s.db.QueryRow(ctx, `
		SELECT st.id, st.login, st.name, st.role
		  FROM priv.link l
		  JOIN priv.staff st ON st.id = l.staff AND st.active
		 WHERE l.hash = $1 AND l.expires >= $2`, hash[:], today).
		Scan((*[16]byte)(&p.ID), &p.Login, &p.Name, (*string)(&p.Role))
	return p, err
}

// Join uses up a link: the password is set, a second step and its recovery
// codes are removed (they may be what was lost), and every session ends.
// fault.ErrNotFound as Invited.
func (s *People) Join(ctx context.Context, l account.Link, passwordHash string, today time.Time) (err error) {
	defer wrap(&err, "People.Join")
	hash := l.Hash()
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var id account.ID
		var login string
		err := tx.QueryRow(ctx, `
			DELETE FROM priv.link l
			 USING priv.staff st
			 WHERE l.hash = $1 AND l.expires >= $2 AND st.id = l.staff AND st.active
			RETURNING st.id, st.login`, hash[:], today).Scan((*[16]byte)(&id), &login)
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `UPDATE priv.staff SET hash = $2, seed = NULL, step = 0 WHERE id = $1`, [16]byte(id), passwordHash)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `DELETE FROM priv.recovery WHERE staff = $1`, [16]byte(id)); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `DELETE FROM priv.session WHERE staff = $1`, [16]byte(id)); err != nil {
			return err
		}
		if err := dropReset(ctx, tx, id); err != nil {
			return err
		}
		return noteBy(ctx, tx, account.DidJoin, today, account.Detail{Person: login}, id)
	})
}

// Assign changes somebody's name, role and counties. fault.ErrNotFound: nobody.
// account.ErrLastCoordinator: it would leave the program without one.
func (s *People) Assign(ctx context.Context, p account.Staff, today time.Time) (err error) {
	defer wrap(&err, "People.Assign")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var login string
		err := tx.QueryRow(ctx, `
			UPDATE priv.staff SET name = $2, role = $3 WHERE id = $1 RETURNING login`,
			[16]byte(p.ID), p.Name, string(p.Role)).Scan(&login)
		if err != nil {
			return err
		}
		if err := setCounties(ctx, tx, p.ID, p.Counties); err != nil {
			return err
		}
		d := account.Detail{Person: login, Role: p.Role}
		if len(p.Counties) == 1 {
			d.County = p.Counties[0]
		}
		if err := note(ctx, tx, account.DidAssign, today, d); err != nil {
			return err
		}
		return keepCoordinator(ctx, tx)
	})
}

// SetActive closes somebody's account, which ends every session and link and
// forgets the mail address, or
// opens it again. fault.ErrNotFound: nobody. account.ErrLastCoordinator as Assign.
func (s *People) SetActive(ctx context.Context, id account.ID, active bool, today time.Time) (err error) {
	defer wrap(&err, "People.SetActive")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var login string
		err := tx.QueryRow(ctx, `UPDATE priv.staff SET active = $2 WHERE id = $1 RETURNING login`, [16]byte(id), active).Scan(&login)
		if err != nil {
			return err
		}
		deed := account.DidReopen
		if !active {
			deed = account.DidClose
			if _, err := tx.Exec(ctx, `DELETE FROM priv.session WHERE staff = $1`, [16]byte(id)); err != nil {
				return err
			}
			if _, err := tx.Exec(ctx, `DELETE FROM priv.link WHERE staff = $1`, [16]byte(id)); err != nil {
				return err
			}
			if _, err := tx.Exec(ctx, `DELETE FROM priv.staff_address WHERE staff = $1`, [16]byte(id)); err != nil {
				return err
			}
			if err := dropReset(ctx, tx, id); err != nil {
				return err
			}
		}
		if err := note(ctx, tx, deed, today, account.Detail{Person: login}); err != nil {
			return err
		}
		return keepCoordinator(ctx, tx)
	})
}

// keepCoordinator refuses a change after which nobody could undo it. Changes to
// people come one after the other, so that two of them cannot both count on the
// person whom the other removes.
func keepCoordinator(ctx context.Context, tx pgx.Tx) error {
	if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('sixmile people'))`); err != nil {
		return err
	}
	var left bool
	err := tx.QueryRow(ctx, `
		SELECT EXISTS (SELECT FROM priv.staff WHERE role = 'coordinator' AND active AND hash <> '')`).Scan(&left)
	if err == nil && !left {
		return account.ErrLastCoordinator
	}
	return err
}

// Sessions lists somebody's sessions, the latest first; that of the token t is
// marked.
func (s *People) Sessions(ctx context.Context, who account.ID, t account.Token, today time.Time) (_ []account.Session, err error) {
	defer wrap(&err, "People.Sessions")
	hash := t.Hash()
	rows, err := s.db.Query(ctx, `
		SELECT id, created, used, hash = $2
		  FROM priv.session
		 WHERE staff = $1 AND NOT half AND used > $3::date - $4::int
		 ORDER BY hash = $2 DESC, used DESC, created DESC, id`, [16]byte(who), hash[:], today, sessionDays)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[account.Session])
}

// EndSession ends one of somebody's sessions. Of somebody else's it ends none.
func (s *People) EndSession(ctx context.Context, who account.ID, session [16]byte) (err error) {
	defer wrap(&err, "People.EndSession")
	_, err = s.db.Exec(ctx, `DELETE FROM priv.session WHERE staff = $1 AND id = $2`, [16]byte(who), session)
	return err
}

// EndOthers ends all of somebody's sessions but that of t.
func (s *People) EndOthers(ctx context.Context, who account.ID, t account.Token) (err error) {
	defer wrap(&err, "People.EndOthers")
	hash := t.Hash()
	_, err = s.db.Exec(ctx, `DELETE FROM priv.session WHERE staff = $1 AND hash <> $2`, [16]byte(who), hash[:])
	return err
}

// EndSessions ends all of somebody's sessions, for a coordinator.
func (s *People) EndSessions(ctx context.Context, who account.ID, today time.Time) (err error) {
	defer wrap(&err, "People.EndSessions")
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		var login string
		if err := tx.QueryRow(ctx, `SELECT login FROM priv.staff WHERE id = $1`, [16]byte(who)).Scan(&login); err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, `DELETE FROM priv.session WHERE staff = $1`, [16]byte(who))
		if err != nil {
			return err
		}
		return note(ctx, tx, account.DidEndSessions, today, account.Detail{Person: login, Number: int(tag.RowsAffected())})
	})
}

// SetPassword changes somebody's own password and ends the other sessions.
func (s *People) SetPassword(ctx context.Context, who account.ID, passwordHash string, keep account.Token, today time.Time) (err error) {
	defer wrap(&err, "People.SetPassword")
	hash := keep.Hash()
	return inTx(ctx, s.db, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE priv.staff SET hash = $2 WHERE id = $1 AND active`, [16]byte(who), passwordHash)
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			return fault.ErrNotFound
		}
		if _, err := tx.Exec(ctx, `DELETE FROM priv.session WHERE staff = $1 AND hash <> $2`, [16]byte(who), hash[:]); err != nil {
			return err
		}
		if err := dropReset(ctx, tx, who); err != nil {
			return err
		}
		return noteBy(ctx, tx, account.DidPassword, today, account.Detail{}, who)
	})
}
