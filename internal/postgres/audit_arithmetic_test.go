package postgres_test

import (
	"math/rand/v2"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
)

// The schema's own arithmetic of rules 1 and 8 is that of package edition and
// of the attacker.
func TestTheSchemasArithmetic(t *testing.T) {
	o := newOffice(t)
	db := open(t, o.logins.Admin)
	ctx := ctxOf(t)
	for n := range 40 {
		for least := range 20 {
			var got int
			require.NoError(t, db.QueryRow(ctx, `SELECT priv.about($1, $2)`, n+least, least).Scan(&got))
			require.Equal(t, attack.AboutFive(n+least, least), got, "%d, at least %d", n+least, least)
		}
	}
	rng := rand.New(rand.NewPCG(3, 3))
	var senders, samples, members [][]any
	id := func() (u [16]byte) {
		for i := range u {
			u[i] = byte(rng.Uint32())
		}
		return u
	}
	want := make(map[int]int)
	for tranche := range 300 {
		var numbers [][16]byte
		for range 1 + rng.IntN(6) {
			u := id()
			var into any
			if len(numbers) > 0 && rng.IntN(5) == 0 {
				into = numbers[0]
			}
			senders = append(senders, []any{u, into})
			if into == nil {
				numbers = append(numbers, u)
			}
		}
		var pending []edition.Pending
		for range 1 + rng.IntN(12) {
			p := edition.Pending{Sample: id(), Sender: numbers[rng.IntN(len(numbers))], Standing: edition.Standing(rng.IntN(3)), Season: 2020 + rng.IntN(4)}
			pending = append(pending, p)
			samples = append(samples, []any{[16]byte(p.Sample), [16]byte(p.Sender), int32(o.counties[0].ID), int32(o.counties[0].ID), p.Season, date(p.Season, 10, 1), int32(p.Standing)})
			members = append(members, []any{[16]byte(p.Sample), tranche})
		}
		want[tranche] = edition.Senders(pending)
	}
	err := pgx.BeginFunc(ctx, db, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SET LOCAL session_replication_role = replica`); err != nil {
			return err
		}
		for _, c := range []struct {
			table   string
			columns []string
			rows    [][]any
		}{
			{"sender", []string{"id", "merged_into"}, senders},
			{"sample", []string{"id", "sender", "place", "county", "season", "day", "standing"}, samples},
			{"tranche_member", []string{"sample", "tranche"}, members},
		} {
			if _, err := tx.CopyFrom(ctx, pgx.Identifier{"priv", c.table}, c.columns, pgx.CopyFromRows(c.rows)); err != nil {
				return err
			}
		}
		return nil
	})
	require.NoError(t, err)
	rows, err := db.Query(ctx, `SELECT tranche, senders FROM priv.tranche_senders`)
	require.NoError(t, err)
	got := make(map[int]int)
	var tranche, n int
	_, err = pgx.ForEachRow(rows, []any{&tranche, &n}, func() error { got[tranche] = n; return nil })
	require.NoError(t, err)
	for tranche, n := range want {
		require.Equal(t, n, got[tranche], "tranche %d", tranche)
	}
}
