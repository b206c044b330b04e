package postgres_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

func TestUnlink(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	of := o.townships[o.counties[0].ID]
	out := o.farms(3, of[0].ID, 2020, 10)
	waits := o.farms(2, of[1].ID, 2020, 10)
	never := o.bags(2) // a form without soil, and a bag nobody used
	o.take(o.visit(sample.FirstEver, of[2].ID, 2020, never[0]))
	young := o.farms(3, of[3].ID, 2023, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	o.release(date(2023, 12, 31), date(2024, 1, 15))
	ends, err := postgres.NewProgram(o.public).SeasonEnds(ctx)
	require.NoError(t, err)
	require.Equal(t, date(2023, 7, 31), ends[2020], "the season closed on July 31, 2021")

	nothing, ran, err := postgres.Unlink(ctx, o.logins.Admin, date(2023, 7, 30), false)
	require.NoError(t, err)
	require.True(t, ran)
	require.Empty(t, nothing.Seasons, "a day too early")
	linked := func() int { return o.count(`SELECT count(*) FROM priv.bag_link`) }
	require.Equal(t, 9, linked())

	dry, _, err := postgres.Unlink(ctx, o.logins.Admin, date(2023, 7, 31), true)
	require.NoError(t, err)
	require.Equal(t, 9, linked())
	done, _, err := postgres.Unlink(ctx, o.logins.Admin, date(2023, 7, 31), false)
	require.NoError(t, err)
	require.Equal(t, dry, done, "a dry run counts the same")
	require.Equal(t, []int{2020}, done.Seasons)
	require.Equal(t, 4, done.Samples)
	require.Equal(t, 4, done.Keys)
	require.Equal(t, 5, linked(), "two wait, three are young")
	for _, c := range waits {
		require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.bag_link l JOIN priv.sample s ON s.id = l.sample
			JOIN priv.sender x ON x.id = s.sender WHERE l.bag = $1`, string(c)), "what waits keeps its number")
	}
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.bag WHERE state = 'void' AND code = ANY ($1)`, []string{string(never[0]), string(never[1])}))
	require.Equal(t, 5, o.count(`SELECT count(*) FROM priv.sender`))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.trail WHERE action = 'unlink' AND detail->'n' = '4'`))
	again, _, err := postgres.Unlink(ctx, o.logins.Admin, date(2023, 8, 1), false)
	require.NoError(t, err)
	require.Zero(t, again.Samples+again.Keys+again.Bundles+again.Codes+again.Visits)
	_, err = postgres.NewLab(o.staff).Find(ctx, out[0])
	require.NoError(t, err)
	require.Zero(t, o.count(`SELECT count(*) FROM priv.bag b JOIN priv.bag_link l ON l.bag = b.code WHERE b.code = $1`, string(out[0])))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.bag_link WHERE bag = $1`, string(young[0])))

	// Everything goes on: verify, audit, recall, release, and what waited goes when it went out.
	o.verified()
	require.Empty(t, o.findings())
	o.recall(edition.Ref{Edition: 1, ID: 1}, desk.WrongGrouping, date(2024, 2, 1))
	_, any := o.amend(date(2024, 2, 2))
	require.False(t, any)
	require.Equal(t, edition.BackTooFew, o.blank(of[0].ID).Why, "nobody knows any more how many senders they are of")
	o.farms(3, of[0].ID, 2024, 10)
	o.farms(1, of[1].ID, 2024, 10)
	o.farms(2, of[1].ID, 2024, 0)
	o.release(date(2024, 12, 31), date(2025, 1, 15))
	issue := o.issue(3)
	require.Equal(t, 6, edition.OfTownship(issue.Tranches, of[0].ID)[0].Samples, "out again with three new senders")
	require.Equal(t, 5, edition.OfTownship(issue.Tranches, of[1].ID)[0].Samples)
	done, _, err = postgres.Unlink(ctx, o.logins.Admin, date(2025, 1, 16), false)
	require.NoError(t, err)
	require.Equal(t, 2, done.Samples, "those that waited")
	o.verified()
	require.Empty(t, o.findings())
}

// A link that worked is no link afterward, and the row order on disk tells nothing:
// it is that of random numbers.
func TestUnlinkedForGood(t *testing.T) {
	o := newOffice(t)
	where := o.townships[o.counties[0].ID][0].ID
	codes := o.farms(9, where, 2020, 10)
	v := o.visit(sample.Earlier, where, 2020, o.bags(1)[0])
	o.take(v)
	o.counted(v.Senders[0].Bags[0].Code, 10, date(2020, 11, 2))
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	secret := v.Token.Secret(v.Senders[0].Bags[0].Code)
	_, err := postgres.NewIntake(o.public).Answer(ctxOf(t), secret)
	require.NoError(t, err)
	_, _, err = postgres.Unlink(ctxOf(t), o.logins.Admin, date(2023, 8, 1), false)
	require.NoError(t, err)
	_, err = postgres.NewIntake(o.public).Answer(ctxOf(t), secret)
	require.ErrorIs(t, err, fault.ErrNotFound)
	require.Len(t, codes, 9)
	for _, table := range []string{"priv.sample", "priv.result"} {
		require.Zero(t, o.count(`SELECT count(*) FROM (SELECT id, lag(id) OVER (ORDER BY ctid) AS before FROM `+table+`) x WHERE before > id`), table)
	}
	// Sealed in a role that serves requests.
	_, _, err = postgres.Unlink(ctxOf(t), o.logins.Staff, date(2023, 8, 1), false)
	require.Error(t, err)
}

// Who works on one of the tables that unlinking writes anew, and needs another,
// is never refused for it: unlinking lets go of what it holds and waits.
func TestUnlinkLetsOthersFinish(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	codes := o.farms(3, o.townships[o.counties[0].ID][0].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	tx, err := open(t, o.logins.Admin).Begin(ctx)
	require.NoError(t, err)
	// The last of the tables first, so that unlinking has got hold of others by then.
	_, err = tx.Exec(ctx, `LOCK TABLE priv.signature IN ROW EXCLUSIVE MODE`)
	require.NoError(t, err)
	type end struct {
		done desk.Unlinked
		err  error
	}
	ended := make(chan end, 1)
	go func() {
		done, _, err := postgres.Unlink(ctx, o.logins.Admin, date(2023, 8, 1), false)
		ended <- end{done, err}
	}()
	waits := `SELECT count(*) FROM pg_locks WHERE mode = 'AccessExclusiveLock' AND NOT granted AND relation = 'priv.signature'::regclass`
	require.Eventually(t, func() bool { return o.count(waits) > 0 }, 10*time.Second, 5*time.Millisecond)
	_, err = tx.Exec(ctx, `UPDATE priv.bag SET state = state WHERE code = $1`, string(codes[0]))
	require.NoError(t, err)
	require.NoError(t, tx.Commit(ctx))
	e := <-ended
	require.NoError(t, e.err)
	require.Equal(t, 3, e.done.Samples)
}
