package postgres_test

import (
	"bytes"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/postgres"
)

// witness is everything a witness would have written of this office.
func (o *office) witness() []byte {
	o.t.Helper()
	w, err := postgres.ReadWitness(bytes.NewReader(nil))
	require.NoError(o.t, err)
	lines, err := w.Missing(ctxOf(o.t), o.staff)
	require.NoError(o.t, err)
	again, err := w.Missing(ctxOf(o.t), o.staff)
	require.NoError(o.t, err)
	require.Empty(o.t, again, "what was said is not said again")
	return append(bytes.Join(lines, []byte("\n")), '\n')
}

func readWitness(t *testing.T, file []byte) postgres.Witness {
	t.Helper()
	w, err := postgres.ReadWitness(bytes.NewReader(file))
	require.NoError(t, err)
	return w
}

// A backup is put back after a release, a recall and a withdrawal that it knows
// nothing of. Without the witness the same results would go out again in other
// groups; with it the public sees what it saw, and no sample goes out twice.
func TestARestoreDoesNotSayItAgainDifferently(t *testing.T) {
	o := newOffice(t)
	of := o.townships[o.counties[0].ID]
	o.farms(4, of[0].ID, 2020, 10)
	o.farms(3, of[3].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.farms(5, of[1].ID, 2021, 20) // in the backup, waiting
	file, _ := o.backup()
	o.farms(3, of[1].ID, 2021, 40) // lost with the database
	o.release(date(2021, 12, 31), date(2022, 1, 15))
	o.recall(edition.Ref{Edition: 1, ID: 1}, desk.WrongCount, date(2022, 1, 20))
	require.NoError(t, postgres.NewRecalls(o.staff).Withdraw(ctxOf(t), 1, desk.WrongGrouping, date(2022, 1, 21)))
	said, was := o.witness(), o.issue(2)
	require.Equal(t, 8, edition.OfTownship(was.Tranches, of[1].ID)[0].Samples)

	// What would happen without it: five of the eight go out again, and the two
	// groups together tell of the three.
	blind := o.restored(file)
	blind.release(date(2021, 12, 31), date(2022, 1, 16))
	require.Equal(t, 5, edition.OfTownship(blind.issue(2).Tranches, of[1].ID)[0].Samples)

	r := o.restored(file)
	w := readWitness(t, said)
	lost, err := w.Compare(ctxOf(t), r.staff)
	require.NoError(t, err)
	require.Len(t, lost.Editions, 1)
	require.Equal(t, []int{len(lost.Editions), 1}, []int{lost.Editions[0].Number - 1, lost.Withdrawals})
	require.Positive(t, lost.Recalls)
	back, err := w.Return(ctxOf(t), r.logins.Admin)
	require.NoError(t, err)
	require.Equal(t, 8, back.Samples)
	require.Equal(t, 3, back.Gone)
	require.Equal(t, was, r.issue(2), "the public sees what it saw")
	require.Equal(t, o.version(), r.version())
	require.Empty(t, r.findings())
	lost, err = w.Compare(ctxOf(t), r.staff)
	require.NoError(t, err)
	require.False(t, lost.Any())

	// Whoever releases next releases nothing of it again.
	p, err := postgres.NewReleases(r.staff).Preview(ctxOf(t), date(2022, 12, 31), date(2023, 1, 15))
	require.NoError(t, err)
	require.NotContains(t, append(p.FirstShown, p.Changed...), of[1].ID)
	r.farms(3, of[1].ID, 2022, 5)
	r.release(date(2022, 12, 31), date(2023, 1, 15))
	require.Equal(t, 3, edition.OfTownship(r.issue(3).Tranches, of[1].ID)[1].Samples)
	require.Empty(t, r.findings())
}

// What was to be forgotten is forgotten again: it follows from the seasons' ends,
// not from a note that a backup could lack.
func TestARestoreForgetsAgain(t *testing.T) {
	o := newOffice(t)
	o.farms(3, o.townships[o.counties[0].ID][0].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	file, _ := o.backup()
	_, _, err := postgres.Unlink(ctxOf(t), o.logins.Admin, date(2023, 8, 1), false)
	require.NoError(t, err)
	r := o.restored(file)
	require.Equal(t, 3, r.count(`SELECT count(*) FROM priv.bag_link`), "the backup is from before")
	_, ran, err := postgres.Unlink(ctxOf(t), r.logins.Admin, date(2023, 8, 2), false)
	require.NoError(t, err)
	require.True(t, ran)
	require.Zero(t, r.count(`SELECT count(*) FROM priv.bag_link`))
	require.Zero(t, r.count(`SELECT count(*) FROM priv.sender`))
}

func TestWitnessFiles(t *testing.T) {
	o := busy(t)
	said := o.witness()
	whole := readWitness(t, said)
	lines, err := whole.Missing(ctxOf(t), o.staff)
	require.NoError(t, err)
	require.Empty(t, lines)
	require.NotContains(t, string(said), "priv.bag_link")

	// A power cut in the middle of a line: the line counts as not written.
	torn := readWitness(t, said[:len(said)-9])
	lines, err = torn.Missing(ctxOf(t), o.staff)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	// Anything else that is no line is damage.
	for _, bad := range []string{"rubbish\n", "{}\n", "\n"} {
		_, err = postgres.ReadWitness(bytes.NewReader(append([]byte(bad), said...)))
		require.ErrorIs(t, err, postgres.ErrWitness, "%q", bad)
	}

	// Another program's witness, or a release made after a restore without one.
	other := newOffice(t)
	other.farms(4, other.townships[other.counties[0].ID][0].ID, 2020, 10)
	other.release(date(2020, 12, 31), date(2021, 1, 15))
	_, err = whole.Compare(ctxOf(t), other.staff)
	require.ErrorIs(t, err, postgres.ErrTwoHistories)
	_, err = whole.Return(ctxOf(t), other.logins.Admin)
	require.ErrorIs(t, err, postgres.ErrTwoHistories)
}

// A table that refers to an edition or a tranche has to come back with it, unless it
// tells the public nothing.
func TestTheWitnessKeepsAllOfAnEdition(t *testing.T) {
	o := newOffice(t)
	rows, err := open(t, o.logins.Admin).Query(ctxOf(t), `
		SELECT DISTINCT conrelid::regclass::text FROM pg_constraint
		 WHERE contype = 'f' AND confrelid IN ('open.edition'::regclass, 'open.tranche'::regclass, 'priv.tranche_member'::regclass)`)
	require.NoError(t, err)
	refer, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	require.Greater(t, len(refer), 8)
	const ofTheOffice = "priv.plan" // next season's bags: made anew
	for _, table := range refer {
		require.Contains(t, append(postgres.WitnessTables(), ofTheOffice), table, "%s refers to an edition: give it a line of witnessRows (witness.go)", table)
	}
}
