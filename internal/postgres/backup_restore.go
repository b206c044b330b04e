package postgres

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"sixmile/migrations"
)

// NotLookedOver is the mark of a database that a backup was put into and that
// nobody may serve yet: what was public since has not been compared.
const NotLookedOver = "restored, and not looked over yet"

// ErrNotLookedOver: a restore was begun here and not finished.
var ErrNotLookedOver = errors.New("a restore into this database was not finished: run sixmile restore again")

// maxIndex bounds what is read of an index, of a file that may not be ours.
const maxIndex = 16 << 20

// ReadBackup reads a backup whole and compares every sum. The error is an ErrBackup
// where it is not as it was written.
func ReadBackup(file io.ReaderAt, size int64) (b Backup, err error) {
	defer wrap(&err, "ReadBackup")
	z, b, err := openBackup(file, size)
	if err != nil {
		return b, err
	}
	for _, t := range b.Tables {
		if err := t.read(z, io.Discard); err != nil {
			return b, err
		}
	}
	return b, nil
}

func openBackup(file io.ReaderAt, size int64) (*zip.Reader, Backup, error) {
	var b Backup
	z, err := zip.NewReader(file, size)
	if err != nil {
		return nil, b, fmt.Errorf("%w: it is cut off, or no backup at all", ErrBackup)
	}
	index, err := z.Open(backupIndex)
	if err != nil {
		return nil, b, fmt.Errorf("%w: it has no index", ErrBackup)
	}
	defer index.Close()
	if err := json.NewDecoder(io.LimitReader(index, maxIndex)).Decode(&b); err != nil {
		return nil, b, fmt.Errorf("%w: its index cannot be read", ErrBackup)
	}
	newest, err := newestStep()
	switch {
	case err != nil:
		return nil, b, err
	case b.Format != backupFormat:
		return nil, b, fmt.Errorf("%w: it says %.40q, and this program reads %q", ErrBackup, b.Format, backupFormat)
	case b.Step > newest:
		return nil, b, fmt.Errorf("%w for this program: it was made by a newer one (step %d, this one knows %d)", ErrBackup, b.Step, newest)
	}
	b.Rows = make(map[string]int)
	for _, t := range b.Tables {
		b.Rows[t.Name] = t.Rows
	}
	return z, b, nil
}

func newestStep() (int64, error) {
	names, err := stepsOnly{migrations.Files}.Glob("*.sql")
	return int64(len(names)), err // numbered without a gap
}

// read copies an entry to w and compares its sum and its rows.
func (t *backedTable) read(z *zip.Reader, w io.Writer) error {
	entry, err := z.Open(t.Name)
	if err != nil {
		return fmt.Errorf("%w: %s is missing", ErrBackup, t.Name)
	}
	defer entry.Close()
	sum, lines := sha256.New(), &lineCounter{}
	if _, err := io.Copy(io.MultiWriter(sum, lines, w), entry); err != nil {
		if errors.Is(err, zip.ErrChecksum) || errors.Is(err, zip.ErrFormat) || errors.Is(err, io.ErrUnexpectedEOF) {
			return fmt.Errorf("%w: %s is damaged", ErrBackup, t.Name)
		}
		return err
	}
	if hex.EncodeToString(sum.Sum(nil)) != t.Sum || lines.n != t.Rows {
		return fmt.Errorf("%w: %s was changed", ErrBackup, t.Name)
	}
	return nil
}

// lineCounter counts rows: in the text format of COPY a line is a row.
type lineCounter struct{ n int }

func (c *lineCounter) Write(p []byte) (int, error) {
	c.n += bytes.Count(p, []byte{'\n'})
	return len(p), nil
}

// Restore puts a backup into a database that holds no program yet, brings it up to
// this program's step and leaves the mark NotLookedOver on it. It is done whole or
// not at all.
func Restore(ctx context.Context, adminDSN string, file io.ReaderAt, size int64) (b Backup, err error) {
	defer wrap(&err, "Restore")
	z, b, err := openBackup(file, size)
	if err != nil {
		return b, err
	}
	unlock, err := Exclusive(ctx, adminDSN, "restore")
	if err != nil {
		return b, err
	}
	defer unlock()
	if err := makeRoom(ctx, adminDSN); err != nil {
		return b, err
	}
	if err := prepare(ctx, adminDSN); err != nil {
		return b, err
	}
	if err := migrateTo(ctx, adminDSN, b.Step); err != nil {
		return b, err
	}
	err = once(ctx, adminDSN, func(c *pgx.Conn) error {
		return pgx.BeginFunc(ctx, c, func(tx pgx.Tx) error { return load(ctx, tx, z, b) })
	})
	if err != nil {
		// What is left is empty, and the next try starts anew.
		return b, errors.Join(err, Discard(context.WithoutCancel(ctx), adminDSN))
	}
	_, err = Provision(ctx, adminDSN)
	return b, err
}

// ErrOccupied: the database holds a program, which a restore would overwrite.
var ErrOccupied = errors.New("this database holds a program already")

// makeRoom empties a database that holds nothing, or a restore that was not finished.
func makeRoom(ctx context.Context, adminDSN string) error {
	occupied, err := Occupied(ctx, adminDSN)
	if err != nil {
		return err
	}
	if occupied {
		mark, err := Mark(ctx, adminDSN)
		if err != nil || mark != NotLookedOver {
			return errors.Join(err, ErrOccupied)
		}
	}
	return Discard(ctx, adminDSN)
}

// Occupied tells whether the database holds a program.
func Occupied(ctx context.Context, adminDSN string) (yes bool, err error) {
	defer wrap(&err, "Occupied")
	err = once(ctx, adminDSN, func(c *pgx.Conn) error {
		err := c.QueryRow(ctx, `SELECT to_regclass('open.program') IS NOT NULL`).Scan(&yes)
		if err != nil || !yes {
			return err
		}
		return c.QueryRow(ctx, `SELECT EXISTS (SELECT FROM open.program)`).Scan(&yes)
	})
	return yes, err
}

// load fills the tables of the backup's step. Triggers and references are off: what
// they would check was checked when it was stored, and the sums say that it is still
// that.
func load(ctx context.Context, tx pgx.Tx, z *zip.Reader, b Backup) error {
	there, err := tablesOf(ctx, tx)
	if err != nil {
		return err
	}
	names := make([]string, len(there))
	for i := range there {
		names[i] = there[i].ident()
	}
	_, err = tx.Exec(ctx, `SET LOCAL session_replication_role = replica;
		TRUNCATE `+strings.Join(names, ", ")+` CASCADE;
		COMMENT ON SCHEMA open IS '`+NotLookedOver+`'`)
	if err != nil {
		return err
	}
	for _, t := range b.Tables {
		i := slices.IndexFunc(there, func(h backedTable) bool { return h.Name == t.Name })
		if i < 0 || !slices.Equal(there[i].Columns, t.Columns) {
			return fmt.Errorf("%w: %.60q is not a table of step %d", ErrBackup, t.Name, b.Step)
		}
		if err := t.load(ctx, tx, z); err != nil {
			return err
		}
	}
	return restartNumbers(ctx, tx)
}

func (t *backedTable) load(ctx context.Context, tx pgx.Tx, z *zip.Reader) error {
	r, w := io.Pipe()
	go func() { w.CloseWithError(t.read(z, w)) }() // a wrong sum breaks the copy off
	_, err := tx.Conn().PgConn().CopyFrom(ctx, r, `COPY `+t.ident()+` (`+t.list()+`) FROM STDIN`)
	r.CloseWithError(io.ErrClosedPipe) // the reader ends where the copy did not take all
	return err
}

// restartNumbers lets numbered columns go on after their highest.
func restartNumbers(ctx context.Context, tx pgx.Tx) error {
	rows, err := tx.Query(ctx, `
		SELECT format('SELECT setval(%L, coalesce(max(%I), 0) + 1, false) FROM %I.%I',
		              pg_get_serial_sequence(format('%I.%I', n.nspname, c.relname), a.attname), a.attname, n.nspname, c.relname)
		  FROM pg_class c
		  JOIN pg_namespace n ON n.oid = c.relnamespace
		  JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0
		 WHERE n.nspname IN ('open', 'priv') AND c.relkind = 'r'
		   AND pg_get_serial_sequence(format('%I.%I', n.nspname, c.relname), a.attname) IS NOT NULL`)
	if err != nil {
		return err
	}
	all, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	for _, sql := range all {
		if _, err := tx.Exec(ctx, sql); err != nil {
			return err
		}
	}
	return nil
}

// Discard empties a database whatever it holds: what was in it has to be kept first.
func Discard(ctx context.Context, adminDSN string) (err error) {
	defer wrap(&err, "Discard")
	return once(ctx, adminDSN, func(c *pgx.Conn) error {
		_, err := c.Exec(ctx, `DROP SCHEMA IF EXISTS open, priv CASCADE; DROP TABLE IF EXISTS public.goose_db_version`)
		return err
	})
}

// LookedOver lifts the mark.
func LookedOver(ctx context.Context, adminDSN string) error { return SetMark(ctx, adminDSN, "") }
