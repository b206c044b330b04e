package postgres_test

import (
	"crypto/sha256"
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/bag"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// wordsOf makes a code's words apart from the database: the first 44 bits of
// SHA-256 (FIPS 180-4) of the key and the code.
func (o *office) wordsOf(c bag.Code) bag.Words {
	o.t.Helper()
	var key []byte
	require.NoError(o.t, o.staff.QueryRow(ctxOf(o.t), `SELECT key FROM priv.stub_key`).Scan(&key))
	require.Len(o.t, key, 32)
	sum := sha256.Sum256(append(key, c...))
	return bag.Words(binary.BigEndian.Uint64(sum[:8]) >> (64 - bag.WordsBits))
}

func TestStubOpensTheAnswer(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	intake := postgres.NewIntake(o.public)
	c := o.bags(2)
	where := o.townships[o.counties[0].ID][3].ID
	today := date(2020, 11, 2)
	_, err := intake.StubAnswer(ctx, c[0], o.wordsOf(c[0]), today)
	require.ErrorIs(t, err, fault.ErrNotFound, "no form has come")

	v := o.visit(sample.FirstEver, where, 2020, c...)
	o.take(v)
	byLink, err := intake.Answer(ctx, v.Token.Secret(c[0]))
	require.NoError(t, err)
	byStub, err := intake.StubAnswer(ctx, c[0], o.wordsOf(c[0]), today)
	require.NoError(t, err)
	require.Equal(t, byLink, byStub)
	_, err = intake.StubAnswer(ctx, c[0], o.wordsOf(c[1]), today)
	require.ErrorIs(t, err, fault.ErrNotFound, "the words of another bag")

	// The right words may be typed as often as one likes.
	for range 2 * bag.StubTries {
		_, err = intake.StubAnswer(ctx, c[1], o.wordsOf(c[1]), today)
		require.NoError(t, err)
	}
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.answer_key k JOIN priv.bag_link l ON l.sample = k.sample
		WHERE k.kind = 'stub' AND l.bag = $1`, string(c[1])))
}

// A code is shut for the day after ten wrong tries, whether anybody has it or not,
// and what it says is the same.
func TestTriesAreCapped(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	intake := postgres.NewIntake(o.public)
	c := o.bags(1)[0]
	o.take(o.visit(sample.FirstEver, o.townships[o.counties[0].ID][3].ID, 2020, c))
	unknown := bag.Code("22222224")
	today := date(2020, 11, 2)
	var said []string
	for i := range bag.StubTries {
		for _, code := range []bag.Code{c, unknown} {
			_, err := intake.StubAnswer(ctx, code, o.wordsOf(c)+1+bag.Words(i), today)
			require.ErrorIs(t, err, fault.ErrNotFound)
			said = append(said, err.Error())
		}
	}
	_, err := intake.StubAnswer(ctx, c, o.wordsOf(c), today)
	require.ErrorIs(t, err, fault.ErrNotFound, "shut, even for the right words")
	for _, s := range append(said, err.Error()) {
		require.Equal(t, said[0], s, "wrong, unknown and shut are told apart by nothing")
	}
	rows := o.count(`SELECT count(*) FROM priv.stub_try`)
	require.Equal(t, 2, rows, "both codes were counted")
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.stub_try WHERE tries >= $1`, bag.StubTries))
	_, err = intake.StubAnswer(ctx, c, o.wordsOf(c), today.AddDate(0, 0, 1))
	require.NoError(t, err, "the next day it is open")
}

// The work of a try that fails does not depend on whether a bag has the code: the
// plan reads the same tables as often. (Asked of the server's own counters, since
// a clock would prove nothing on a busy machine.)
func TestWrongAndUnknownDoTheSameWork(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	c := o.bags(1)[0]
	o.take(o.visit(sample.FirstEver, o.townships[o.counties[0].ID][3].ID, 2020, c))
	admin := open(t, o.logins.Admin)
	touched := func(code string) (out []string) {
		tx, err := admin.Begin(ctx)
		require.NoError(t, err)
		defer func() { require.NoError(t, tx.Rollback(ctx)) }()
		read := func() map[string][2]int64 {
			rows, err := tx.Query(ctx, `SELECT relname::text, coalesce(seq_scan, 0) + coalesce(idx_scan, 0), n_tup_ins + n_tup_upd
				FROM pg_stat_xact_all_tables WHERE schemaname = 'priv'`)
			require.NoError(t, err)
			got := map[string][2]int64{}
			for rows.Next() {
				var name string
				var n [2]int64
				require.NoError(t, rows.Scan(&name, &n[0], &n[1]))
				got[name] = n
			}
			require.NoError(t, rows.Err())
			return got
		}
		before := read()
		_, err = tx.Exec(ctx, `SELECT * FROM open.give_stub_answer($1, 0, '2020-11-02')`, code)
		require.NoError(t, err)
		for name, n := range read() {
			if n != before[name] {
				out = append(out, name)
			}
		}
		return out
	}
	touched(string(c)) // plans are made
	wrong, unknown := touched(string(c)), touched("22222224")
	require.NotEmpty(t, wrong)
	require.ElementsMatch(t, wrong, unknown)
	require.NotContains(t, wrong, "bag_link", "a bag is looked for only once the words are right")
	require.NotContains(t, wrong, "bag")
}

func TestStubWordsAreForBagsInTheOffice(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	store := postgres.NewBags(o.staff)
	lot, err := store.Issue(ctx, o.counties[0].ID, 2020, []int{3}, date(2020, 8, 1))
	require.NoError(t, err)
	bundles, _, err := store.Bundles(ctx, lot)
	require.NoError(t, err)
	words, err := store.StubWords(ctx, lot)
	require.NoError(t, err)
	require.Len(t, words, 3)
	for c, w := range words {
		require.Equal(t, o.wordsOf(c), w)
	}
	o.take(o.visit(sample.Already, o.townships[o.counties[0].ID][0].ID, 2020, bundles[0][0]))
	words, err = store.StubWords(ctx, lot)
	require.NoError(t, err)
	require.NotContains(t, words, bundles[0][0], "its stub is in somebody's hand")
}
