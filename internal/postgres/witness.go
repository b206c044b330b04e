package postgres

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/jackc/pgx/v5"
)

// A witness remembers outside the database what was made public, so that a database
// put back to an earlier day cannot say it again differently. It is a text file that
// only grows, a line an event: an edition with all its rows and the samples that are
// in its tranches, a recall, a withdrawal. Samples go by their random numbers; what
// they are, whose, and from which bag is not in it.

// Witness is what such a file remembers.
type Witness struct {
	Editions    []witnessed
	Recalls     []json.RawMessage
	Withdrawals []json.RawMessage
	lines       map[string]bool
}

// witnessLine is a line of the file; one of the three is set.
type witnessLine struct {
	Edition    *witnessed      `json:"edition,omitempty"`
	Recall     json.RawMessage `json:"recall,omitempty"`
	Withdrawal json.RawMessage `json:"withdrawal,omitempty"`
}

type witnessed struct {
	Number int    `json:"no"`
	Code   string `json:"code"`
	Digest string `json:"digest"`
	// Rows are by table; those of what an edition refers to come first.
	Rows map[string]json.RawMessage `json:"rows"`
}

// ErrWitness: a witness cannot be read.
var ErrWitness = errors.New("the witness cannot be read")

// ReadWitness reads a witness. A last line without an end, as a power cut leaves it,
// is no line: whoever writes cuts it off first.
func ReadWitness(r io.Reader) (Witness, error) {
	w := Witness{lines: map[string]bool{}}
	in := bufio.NewReaderSize(r, 1<<16)
	for n := 1; ; n++ {
		line, err := in.ReadBytes('\n')
		if errors.Is(err, io.EOF) {
			return w, nil
		}
		if err != nil {
			return w, err
		}
		var l witnessLine
		if json.Unmarshal(line, &l) != nil || l.Edition == nil && l.Recall == nil && l.Withdrawal == nil {
			return w, fmt.Errorf("%w: line %d", ErrWitness, n)
		}
		w.add(l, string(bytes.TrimSpace(line)))
	}
}

func (w *Witness) add(l witnessLine, line string) {
	if w.lines[line] {
		return
	}
	w.lines[line] = true
	switch {
	case l.Edition != nil:
		w.Editions = append(w.Editions, *l.Edition)
	case l.Recall != nil:
		w.Recalls = append(w.Recalls, l.Recall)
	case l.Withdrawal != nil:
		w.Withdrawals = append(w.Withdrawals, l.Withdrawal)
	}
}

func (w *Witness) has(no int, digest string) bool {
	return slices.ContainsFunc(w.Editions, func(e witnessed) bool { return e.Number == no && e.Digest == digest })
}

// witnessRows are the rows of an edition by table, in an order in which they could be
// stored. Those that an edition only refers to may be there already.
var witnessRows = []struct{ table, sql string }{
	{"open.scheme", `SELECT * FROM open.scheme WHERE id = (SELECT scheme FROM open.edition WHERE no = $1)`},
	{"open.scheme_class", `SELECT * FROM open.scheme_class WHERE scheme = (SELECT scheme FROM open.edition WHERE no = $1)`},
	{"open.parameter_set", `SELECT * FROM open.parameter_set WHERE id = (SELECT parameters FROM open.edition WHERE no = $1)`},
	{"open.season", `SELECT * FROM open.season WHERE year = (SELECT season FROM open.edition WHERE no = $1)`},
	{"open.method", `SELECT m.* FROM open.method m WHERE m.id IN (SELECT method FROM open.edition_method WHERE edition = $1)`},
	{"open.edition", `SELECT * FROM open.edition WHERE no = $1`},
	{"open.tranche", `SELECT * FROM open.tranche WHERE edition = $1`},
	{"open.tranche_place", `SELECT p.* FROM open.tranche_place p JOIN open.tranche t ON t.id = p.tranche WHERE t.edition = $1`},
	{"open.tranche_join", `SELECT j.* FROM open.tranche_join j JOIN open.tranche t ON t.id = j.whole WHERE t.edition = $1`},
	{"open.tranche_count", `SELECT * FROM open.tranche_count WHERE edition = $1`},
	{"open.fall_figure", `SELECT * FROM open.fall_figure WHERE edition = $1`},
	// Of older editions too, whose groups this one counted again.
	{"open.edition_method", `SELECT * FROM open.edition_method WHERE edition = $1 OR edition IN
		(SELECT t.edition FROM open.tranche_count c JOIN open.tranche t ON t.id = c.tranche WHERE c.edition = $1)`},
	{"priv.tranche_member", `SELECT m.* FROM priv.tranche_member m JOIN open.tranche t ON t.id = m.tranche WHERE t.edition = $1`},
	{"priv.member_result", `SELECT * FROM priv.member_result WHERE edition = $1`},
}

// WitnessTables are the tables that a witness keeps. Whatever refers to an edition or
// a tranche and tells the public something is among them.
func WitnessTables() []string {
	out := []string{"open.recall", "open.withdrawal"}
	for _, r := range witnessRows {
		out = append(out, r.table)
	}
	return out
}

// Public is how much was made public: the witness is behind where it has changed.
type Public struct{ Editions, Recalls, Withdrawals int }

// CountPublic is one short statement.
func CountPublic(ctx context.Context, db DB) (p Public, err error) {
	defer wrap(&err, "CountPublic")
	err = db.QueryRow(ctx, `
		SELECT (SELECT count(*) FROM open.edition), (SELECT count(*) FROM open.recall), (SELECT count(*) FROM open.withdrawal)`).
		Scan(&p.Editions, &p.Recalls, &p.Withdrawals)
	return p, err
}

// Missing gives the lines that a witness lacks of what the database has, over a Staff
// connection.
func (w *Witness) Missing(ctx context.Context, db DB) (lines [][]byte, err error) {
	defer wrap(&err, "Witness.Missing")
	err = pgx.BeginTxFunc(ctx, beginner{db}, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		all, err := editionsIn(ctx, tx)
		if err != nil {
			return err
		}
		put := func(l witnessLine) error {
			line, err := json.Marshal(l)
			if err == nil && !w.lines[string(line)] {
				lines = append(lines, line)
				w.add(l, string(line))
			}
			return err
		}
		for _, e := range all {
			if w.has(e.Number, e.Digest) {
				continue
			}
			rows, err := rowsOf(ctx, tx, e.Number)
			if err != nil {
				return err
			}
			if err := put(witnessLine{Edition: &witnessed{e.Number, e.Code, e.Digest, rows}}); err != nil {
				return err
			}
		}
		for table, line := range map[string]func(json.RawMessage) witnessLine{
			"open.recall":     func(r json.RawMessage) witnessLine { return witnessLine{Recall: r} },
			"open.withdrawal": func(r json.RawMessage) witnessLine { return witnessLine{Withdrawal: r} },
		} {
			rows, err := tx.Query(ctx, `SELECT to_jsonb(t)::text FROM `+table+` t ORDER BY 1`)
			if err != nil {
				return err
			}
			each, err := pgx.CollectRows(rows, pgx.RowTo[string])
			if err != nil {
				return err
			}
			for _, r := range each {
				// Marshalled once more, so that one row always gives one line.
				if err := put(line(json.RawMessage(r))); err != nil {
					return err
				}
			}
		}
		return nil
	})
	return lines, err
}

func rowsOf(ctx context.Context, tx pgx.Tx, no int) (map[string]json.RawMessage, error) {
	out := make(map[string]json.RawMessage)
	for _, r := range witnessRows {
		var rows string
		err := tx.QueryRow(ctx, `SELECT coalesce(jsonb_agg(to_jsonb(t)), '[]')::text FROM (`+r.sql+`) t`, no).Scan(&rows)
		if err != nil {
			return nil, err
		}
		out[r.table] = json.RawMessage(rows)
	}
	return out, nil
}

// Lost is what a witness remembers and the database does not.
type Lost struct {
	Editions             []BackedUp
	Recalls, Withdrawals int
}

// Any tells whether there is anything.
func (l Lost) Any() bool { return len(l.Editions)+l.Recalls+l.Withdrawals > 0 }

// ErrTwoHistories: the database has an edition of a number that the witness knows
// as another. One of the two belongs to another program, or was released after a
// backup had been put back without the witness.
var ErrTwoHistories = errors.New("the database and the witness do not tell one history")

// Compare tells what the database has lost of what was public.
func (w *Witness) Compare(ctx context.Context, db DB) (l Lost, err error) {
	defer wrap(&err, "Witness.Compare")
	has := make(map[int]string)
	all, err := editionsIn(ctx, db)
	if err != nil {
		return l, err
	}
	for _, e := range all {
		has[e.Number] = e.Digest
	}
	for _, e := range w.Editions {
		switch digest, there := has[e.Number]; {
		case !there:
			l.Editions = append(l.Editions, BackedUp{e.Number, e.Code, e.Digest})
		case digest != e.Digest:
			return l, fmt.Errorf("%w: edition %d", ErrTwoHistories, e.Number)
		}
	}
	for table, of := range map[string]struct {
		rows []json.RawMessage
		n    *int
	}{"open.recall": {w.Recalls, &l.Recalls}, "open.withdrawal": {w.Withdrawals, &l.Withdrawals}} {
		for _, r := range of.rows {
			var there bool
			// A recall is the same whatever its reason and day.
			key := map[string]string{"open.recall": `t.tranche = x.tranche AND t.upto = x.upto`, "open.withdrawal": `t.edition = x.edition`}[table]
			err := db.QueryRow(ctx, `
				SELECT EXISTS (SELECT FROM `+table+` t, jsonb_populate_record(NULL::`+table+`, $1::text::jsonb) x WHERE `+key+`)`, string(r)).Scan(&there)
			if err != nil {
				return l, err
			}
			if !there {
				*of.n++
			}
		}
	}
	return l, nil
}
