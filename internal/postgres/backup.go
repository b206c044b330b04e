package postgres

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

// A backup is a zip file: a table's rows in the text format of COPY an entry, and
// an index with their sums. It needs no program of PostgreSQL's to be made or read,
// and fits any version of the server. Rows stand in the order of their keys, which
// are random numbers, so a backup tells no more of what came when than the database
// does. Sessions and links that were not opened are left out: nobody gets in by one
// that was ended since.

// backupFormat changes when an older program could no longer read a backup.
const backupFormat = "sixmile backup 1"

// backupIndex is the entry that says what the others are.
const backupIndex = "index.json"

// leftOut are the tables whose rows no backup has.
var leftOut = []string{"priv.session", "priv.link", "priv.reset"}

// Backup is what a backup says of itself.
type Backup struct {
	Format   string         `json:"format"`
	Day      string         `json:"day"`  // it was made, 2026-11-25
	Step     int64          `json:"step"` // the newest migration it has
	Program  string         `json:"program"`
	State    string         `json:"state"`
	Editions []BackedUp     `json:"editions"`
	Recalls  int            `json:"recalls"`
	Tables   []backedTable  `json:"tables"`
	Rows     map[string]int `json:"-"` // by table
}

// BackedUp is an edition in a backup.
type BackedUp struct {
	Number int    `json:"no"`
	Code   string `json:"code"`
	Digest string `json:"digest"` // hex
}

type backedTable struct {
	Name    string   `json:"name"`
	Columns []string `json:"columns"`
	Rows    int      `json:"rows"`
	Sum     string   `json:"sha256"`
}

// ErrBackup means that a file is no backup, or not whole. The text of the wrapping
// error says what is wrong with it.
var ErrBackup = errors.New("this is no good backup")

// WriteBackup writes everything the database holds at one moment, while work goes
// on.
func WriteBackup(ctx context.Context, adminDSN string, w io.Writer, today time.Time) (b Backup, err error) {
	defer wrap(&err, "WriteBackup")
	err = once(ctx, adminDSN, func(c *pgx.Conn) error {
		return pgx.BeginTxFunc(ctx, c, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
			if b, err = backupHead(ctx, tx, today); err != nil {
				return err
			}
			z := zip.NewWriter(w)
			for i := range b.Tables {
				if err := b.Tables[i].write(ctx, tx, z); err != nil {
					return fmt.Errorf("%s: %w", b.Tables[i].Name, err)
				}
			}
			index, err := z.Create(backupIndex)
			if err != nil {
				return err
			}
			if err := json.NewEncoder(index).Encode(b); err != nil {
				return err
			}
			return z.Close()
		})
	})
	return b, err
}

func backupHead(ctx context.Context, tx pgx.Tx, today time.Time) (Backup, error) {
	b := Backup{Format: backupFormat, Day: today.Format(time.DateOnly)}
	err := tx.QueryRow(ctx, `
		SELECT p.name, p.state, (SELECT max(version_id) FROM public.goose_db_version WHERE is_applied),
		       (SELECT count(*) FROM open.recall)
		  FROM open.program p`).Scan(&b.Program, &b.State, &b.Step, &b.Recalls)
	if err != nil {
		return b, err
	}
	if b.Editions, err = editionsIn(ctx, tx); err != nil {
		return b, err
	}
	b.Tables, err = tablesOf(ctx, tx)
	return b, err
}

func editionsIn(ctx context.Context, db DB) ([]BackedUp, error) {
	rows, err := db.Query(ctx, `SELECT no, code, encode(digest, 'hex') FROM open.edition ORDER BY no`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[BackedUp])
}

// tablesOf lists what there is to keep, with the columns that are not computed.
func tablesOf(ctx context.Context, db DB) ([]backedTable, error) {
	rows, err := db.Query(ctx, `
		SELECT n.nspname || '.' || c.relname,
		       array_agg(a.attname::text ORDER BY a.attnum), 0, ''
		  FROM pg_class c
		  JOIN pg_namespace n ON n.oid = c.relnamespace
		  JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
		 WHERE n.nspname IN ('open', 'priv') AND c.relkind = 'r' AND c.relpersistence = 'p'
		   AND n.nspname || '.' || c.relname <> ALL ($1)
		 GROUP BY n.nspname, c.relname
		 ORDER BY 1`, leftOut)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[backedTable])
}

func (t *backedTable) ident() string {
	return pgx.Identifier(strings.SplitN(t.Name, ".", 2)).Sanitize()
}

func (t *backedTable) list() string {
	quoted := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		quoted[i] = pgx.Identifier{c}.Sanitize()
	}
	return strings.Join(quoted, ", ")
}

func (t *backedTable) write(ctx context.Context, tx pgx.Tx, z *zip.Writer) error {
	var key string
	err := tx.QueryRow(ctx, `
		SELECT coalesce((SELECT string_agg(quote_ident(a.attname), ', ' ORDER BY k.at)
		                   FROM pg_index i, unnest(i.indkey) WITH ORDINALITY k (col, at)
		                   JOIN pg_attribute a ON a.attnum = k.col
		                  WHERE i.indrelid = $1::text::regclass AND i.indisprimary AND a.attrelid = i.indrelid), '1')`, t.ident()).Scan(&key)
	if err != nil {
		return err
	}
	entry, err := z.Create(t.Name)
	if err != nil {
		return err
	}
	sum := sha256.New()
	tag, err := tx.Conn().PgConn().CopyTo(ctx, io.MultiWriter(entry, sum),
		`COPY (SELECT `+t.list()+` FROM `+t.ident()+` ORDER BY `+key+`) TO STDOUT`)
	if err != nil {
		return err
	}
	t.Rows, t.Sum = int(tag.RowsAffected()), hex.EncodeToString(sum.Sum(nil))
	return nil
}
