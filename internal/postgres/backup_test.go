package postgres_test

import (
	"bytes"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/pgtest"
)

func (o *office) backup() (*bytes.Reader, postgres.Backup) {
	o.t.Helper()
	var file bytes.Buffer
	b, err := postgres.WriteBackup(ctxOf(o.t), o.logins.Admin, &file, date(2022, 2, 1))
	require.NoError(o.t, err)
	return bytes.NewReader(file.Bytes()), b
}

// empty is a database without anything of ours.
func empty(t *testing.T) postgres.Logins {
	t.Helper()
	logins := pgtest.Database(t)
	require.NoError(t, postgres.Discard(ctxOf(t), logins.Admin))
	return logins
}

// restored is the office as a backup has it, in a database of its own.
func (o *office) restored(file *bytes.Reader) *office {
	o.t.Helper()
	logins := empty(o.t)
	_, err := postgres.Restore(ctxOf(o.t), logins.Admin, file, file.Size())
	require.NoError(o.t, err)
	// Roles are named after their database; a copy's are its own.
	logins, err = postgres.Provision(ctxOf(o.t), logins.Admin)
	require.NoError(o.t, err)
	out := *o
	out.logins = logins
	out.staff, out.public = open(o.t, logins.Staff), open(o.t, logins.Public)
	return &out
}

// busy is an office with two editions, the first of them with a group taken back.
func busy(t *testing.T) *office {
	o := newOffice(t)
	of := o.townships[o.counties[0].ID]
	codes := o.farms(3, of[0].ID, 2020, 0)
	o.farms(6, of[1].ID, 2020, 40)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.recall(edition.Ref{Edition: 1, ID: 1}, desk.WrongCount, date(2021, 1, 20))
	o.corrected(codes[0], 9, date(2021, 2, 1))
	o.farms(4, of[0].ID, 2021, 3)
	o.farms(2, of[2].ID, 2021, 260)
	o.release(date(2021, 12, 31), date(2022, 1, 15))
	return o
}

func TestBackupComesBackWhole(t *testing.T) {
	o := busy(t)
	file, said := o.backup()
	require.Len(t, said.Editions, 2)
	require.Equal(t, 1, said.Recalls)
	read, err := postgres.ReadBackup(file, file.Size())
	require.NoError(t, err)
	require.Equal(t, said.Tables, read.Tables)
	require.Equal(t, 15, read.Rows["priv.sample"])

	r := o.restored(file)
	mark, err := postgres.Mark(ctxOf(t), r.logins.Admin)
	require.NoError(t, err)
	require.Equal(t, postgres.NotLookedOver, mark, "nobody serves it yet")
	require.NoError(t, postgres.LookedOver(ctxOf(t), r.logins.Admin))
	_, again := r.backup()
	require.Equal(t, said, func() postgres.Backup { again.Rows = said.Rows; return again }(), "every row of every table, by sum")
	r.verified()
	require.Empty(t, r.findings())
	require.Equal(t, o.issue(2), r.issue(2))

	// Work goes on there: forms, counts, a release, boundaries' numbered rows.
	r.farms(4, o.townships[o.counties[1].ID][0].ID, 2022, 10)
	r.release(date(2022, 12, 31), date(2023, 1, 15))
	r.verified()
	require.Empty(t, r.findings())
}

func TestNoRestoreOverAProgram(t *testing.T) {
	o := busy(t)
	file, _ := o.backup()
	_, err := postgres.Restore(ctxOf(t), o.logins.Admin, file, file.Size())
	require.ErrorIs(t, err, postgres.ErrOccupied)
	require.Equal(t, 15, o.count(`SELECT count(*) FROM priv.sample`))
	// One that was broken off before it was looked over may be begun again.
	require.NoError(t, postgres.SetMark(ctxOf(t), o.logins.Admin, postgres.NotLookedOver))
	_, err = postgres.Restore(ctxOf(t), o.logins.Admin, file, file.Size())
	require.NoError(t, err)
}

// A damaged file is refused, whatever is damaged, and leaves nothing behind.
func TestDamagedBackups(t *testing.T) {
	o := busy(t)
	file, _ := o.backup()
	whole := make([]byte, file.Size())
	_, err := file.ReadAt(whole, 0)
	require.NoError(t, err)
	for i := 0; i < len(whole); i += len(whole)/60 + 1 {
		bad := slices.Clone(whole)
		bad[i] ^= 0x41
		b, err := postgres.ReadBackup(bytes.NewReader(bad), int64(len(bad)))
		if err == nil { // a name or a time in the zip's own directory: the rows are what they were
			require.Len(t, b.Editions, 2, "byte %d", i)
		}
	}
	into := empty(t)
	for _, n := range []int{0, 10, len(whole) / 2, len(whole) - 1} {
		_, err := postgres.ReadBackup(bytes.NewReader(whole[:n]), int64(n))
		require.ErrorIs(t, err, postgres.ErrBackup, "cut off at %d", n)
		_, err = postgres.Restore(ctxOf(t), into.Admin, bytes.NewReader(whole[:n]), int64(n))
		require.ErrorIs(t, err, postgres.ErrBackup)
	}
	// Damage in the middle of a table's rows is found while they are loaded.
	bad := slices.Clone(whole)
	for i := len(bad) / 3; i < len(bad)/3+40; i++ {
		bad[i] ^= 0xff
	}
	_, err = postgres.Restore(ctxOf(t), into.Admin, bytes.NewReader(bad), int64(len(bad)))
	require.Error(t, err)
	occupied, err := postgres.Occupied(ctxOf(t), into.Admin)
	require.NoError(t, err)
	require.False(t, occupied, "nothing is left of it")
	_, err = postgres.Restore(ctxOf(t), into.Admin, bytes.NewReader(whole), int64(len(whole)))
	require.NoError(t, err, "and the whole one goes in")
}

// A backup of an older step comes up to date while it is put back; one of a newer
// program is refused, and so is a database of one.
func TestBackupsOfOtherSteps(t *testing.T) {
	old := empty(t)
	ctx := ctxOf(t)
	newest := int64(0)
	{
		full := newOffice(t)
		_, said := full.backup()
		newest = said.Step
	}
	_, err := postgres.Provision(ctx, old.Admin) // roles and extensions
	require.NoError(t, err)
	require.NoError(t, postgres.Discard(ctx, old.Admin))
	require.NoError(t, postgres.MigrateTo(ctx, old.Admin, newest-1))
	admin := open(t, old.Admin)
	_, err = admin.Exec(ctx, `INSERT INTO open.parameter_set (id) VALUES (1);
		INSERT INTO open.program (name, state, parameters) VALUES ('Old', 'Nowhere', 1);
		INSERT INTO open.season VALUES (2020, '2020-08-01', '2021-07-31')`)
	require.NoError(t, err)
	var file bytes.Buffer
	said, err := postgres.WriteBackup(ctx, old.Admin, &file, date(2021, 1, 1))
	require.NoError(t, err)
	require.Equal(t, newest-1, said.Step)
	into := empty(t)
	_, err = postgres.Restore(ctx, into.Admin, bytes.NewReader(file.Bytes()), int64(file.Len()))
	require.NoError(t, err)
	var step int64
	require.NoError(t, open(t, into.Admin).QueryRow(ctx, `SELECT max(version_id) FROM public.goose_db_version`).Scan(&step))
	require.Equal(t, newest, step)

	_, err = open(t, into.Admin).Exec(ctx, `INSERT INTO public.goose_db_version (version_id, is_applied) VALUES ($1, true)`, newest+1)
	require.NoError(t, err)
	_, err = postgres.Provision(ctx, into.Admin)
	require.ErrorIs(t, err, postgres.ErrNewer)
	file.Reset()
	_, err = postgres.WriteBackup(ctx, into.Admin, &file, date(2021, 1, 1))
	require.NoError(t, err)
	_, err = postgres.ReadBackup(bytes.NewReader(file.Bytes()), int64(file.Len()))
	require.ErrorIs(t, err, postgres.ErrBackup)
	require.ErrorContains(t, err, "newer")
}
