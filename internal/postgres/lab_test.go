package postgres_test

import (
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// watchHeap samples the heap until it is stopped.
func watchHeap() (most *atomic.Uint64, stop func()) {
	most = new(atomic.Uint64)
	done := make(chan struct{})
	go func() {
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most.Store(max(most.Load(), m.HeapAlloc))
			select {
			case <-done:
				return
			case <-time.After(50 * time.Millisecond):
			}
		}
	}()
	return most, func() { close(done) }
}

// What is keyed comes back as it was: any count, any report.
func TestResultsComeBackAsTheyWereKeyed(t *testing.T) {
	o := newOffice(t)
	lab := postgres.NewLab(o.staff)
	methods := assay.PresetMethods()
	codes := o.bags(40)
	for _, c := range codes {
		o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c))
	}
	next := 0
	rapid.Check(t, func(rt *rapid.T) {
		if next == len(codes) {
			return // enough of them
		}
		k := desk.Keyed{Code: codes[next], Method: methods[rapid.IntRange(0, 1).Draw(rt, "method")], Day: date(2020, 11, 1)}
		next++
		cyst, juveniles := rapid.Bool().Draw(rt, "cyst"), rapid.Bool().Draw(rt, "juveniles")
		if rapid.Bool().Draw(rt, "reported") {
			k.Report = assay.Report{Value: float64(rapid.IntRange(0, 20_000).Draw(rt, "value")), Unit: rapid.SampledFrom(assay.Units()).Draw(rt, "unit"),
				CystSeen: cyst, JuvenilesSeen: juveniles}
			if k.Report.Unit.ByMass() {
				k.Report.BulkDensity = 1.25
			}
		} else {
			k.Count = assay.Count{SoilCM3: rapid.Float64Range(1, 500).Draw(rt, "soil"), SuspensionML: 100, CystSeen: cyst, JuvenilesSeen: juveniles}
			for range rapid.IntRange(1, assay.MaxAliquots).Draw(rt, "portions") {
				k.Count.Aliquots = append(k.Count.Aliquots, assay.Aliquot{ML: rapid.Float64Range(0.5, 5).Draw(rt, "ml"), Eggs: rapid.IntRange(0, 60).Draw(rt, "eggs")})
			}
		}
		want, err := k.Reading()
		if err != nil {
			rt.Fatal(err)
		}
		require.NoError(rt, lab.Record(ctxOf(t), k, account.ID{}))
		b, err := lab.Find(ctxOf(t), k.Code)
		require.NoError(rt, err)
		require.Equal(rt, want, b.Reading)
		require.Equal(rt, k.Count, b.Count)
		require.Equal(rt, k.Method, b.Method)
		targets, err := postgres.NewUploads(o.staff).Targets(ctxOf(t), codes[next-1:next])
		require.NoError(rt, err)
		require.True(rt, targets[k.Code].Same(k), "%+v", targets[k.Code])
	})
}

func TestASecondCountChangesNoResult(t *testing.T) {
	o := newOffice(t)
	ctx, lab, m := ctxOf(t), postgres.NewLab(o.staff), assay.DefaultMethod()
	c := o.bags(2)
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c...))
	require.ErrorIs(t, lab.Duplicate(ctx, c[0], assay.SameBag, m.Count(3), account.ID{}, date(2020, 11, 2)), fault.ErrNotFound, "nothing to compare with")
	o.counted(c[0], 42, date(2020, 11, 1))
	require.NoError(t, lab.Duplicate(ctx, c[0], assay.SameBag, m.Count(50), account.ID{}, date(2020, 11, 2)))
	require.ErrorIs(t, lab.Duplicate(ctx, c[0], 0, m.Count(50), account.ID{}, date(2020, 11, 2)), fault.ErrNotFound)
	require.Error(t, lab.Duplicate(ctx, c[0], assay.SameBag, m.Count(-1), account.ID{}, date(2020, 11, 2)))
	twins, err := lab.Twins(ctx, 2020)
	require.NoError(t, err)
	require.Len(t, twins, 1)
	d, err := assay.Compare(twins[0].First, twins[0].Second, twins[0].Method, twins[0].Kind)
	require.NoError(t, err)
	require.InDelta(t, 8.0/46, d.Relative, 1e-9) // 42 and 50 eggs: 8 over their mean
	b, err := lab.Find(ctx, c[0])
	require.NoError(t, err)
	require.Equal(t, 42, b.Reading.Eggs)
	require.True(t, b.Signed)
}

func TestWhatStillStandsInTheLab(t *testing.T) {
	o := newOffice(t)
	c := o.bags(3)
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c...))
	o.counted(c[0], 42, date(2020, 11, 1))
	o.counted(c[1], 42, date(2020, 11, 9))
	o.keyed(c[2], 7) // counted November 1
	fresh, err := postgres.NewLab(o.staff).Fresh(ctxOf(t), 2020, date(2020, 11, 1))
	require.NoError(t, err)
	require.Len(t, fresh, 3)
	fresh, err = postgres.NewLab(o.staff).Fresh(ctxOf(t), 2020, date(2020, 11, 5))
	require.NoError(t, err)
	require.Len(t, fresh, 1)
	require.Equal(t, c[1], fresh[0].Code)
	require.NotZero(t, fresh[0].Seat)
	require.Equal(t, assay.Density(50), fresh[0].Reading.PerEgg)
}

// Recounts of a day are those of more of a suspension or of another scoop: a
// figure that was only mistyped took nobody to the microscope.
func TestRecountsOfADay(t *testing.T) {
	o := newOffice(t)
	c := o.bags(3)
	o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, c...))
	lab, m := postgres.NewLab(o.staff), assay.DefaultMethod()
	for i, why := range []assay.Correction{assay.LookedAgain, assay.WashedAgain, assay.Mistyped} {
		o.keyed(c[i], 7)
		b, err := lab.Find(ctxOf(t), c[i])
		require.NoError(t, err)
		require.NoError(t, lab.Record(ctxOf(t), desk.Keyed{Code: c[i], Method: m, Count: m.Count(9), Replaces: b.Head, Why: why, Day: date(2020, 11, 4)}, account.ID{}))
	}
	for day, want := range map[int]int{1: 0, 4: 2, 5: 0} {
		n, err := lab.Recounted(ctxOf(t), 2020, date(2020, 11, day))
		require.NoError(t, err)
		require.Equal(t, want, n, "November %d", day)
	}
}

// An unconfirmed result earns one bag, of the same sender, and its sender reads of it.
func TestFollowUpBags(t *testing.T) {
	o := newOffice(t)
	ctx, store := ctxOf(t), postgres.NewSignOff(o.staff)
	c := o.bags(4)
	v := o.visit(sample.FirstEver, o.townships[o.counties[0].ID][1].ID, 2020, c...)
	o.take(v)
	for i, eggs := range []int{0, 2, 3, 200} {
		o.keyed(c[i], eggs)
	}
	list, err := store.Unsigned(ctx)
	require.NoError(t, err)
	var ids []desk.ID
	for _, u := range list {
		ids = append(ids, u.Result)
	}
	batch, _, err := store.Sign(ctx, ids, account.ID{}, date(2020, 11, 3))
	require.NoError(t, err)
	batches, err := store.Batches(ctx, 5)
	require.NoError(t, err)
	require.Equal(t, 2, batches[0].Unconfirmed)

	lots, n, err := store.FollowUp(ctx, batch, 2020, date(2020, 11, 4))
	require.NoError(t, err)
	require.Len(t, lots, 1)
	require.Equal(t, 2, n)
	_, n, err = store.FollowUp(ctx, batch, 2020, date(2020, 11, 4))
	require.NoError(t, err)
	require.Zero(t, n, "pressed twice")
	batches, err = store.Batches(ctx, 5)
	require.NoError(t, err)
	require.Zero(t, batches[0].Unconfirmed)
	require.Equal(t, 2, o.count(`SELECT count(*) FROM priv.bundle u JOIN priv.sample s ON s.id = u.follows AND s.sender = u.sender`))
	bundles, _, err := postgres.NewBags(o.staff).Bundles(ctx, lots[0])
	require.NoError(t, err)
	require.Len(t, bundles, 2)

	intake := postgres.NewIntake(o.public)
	a, err := intake.Answer(ctx, v.Token.Secret(c[1]))
	require.NoError(t, err)
	require.NotEmpty(t, a.Follow)
	none, err := intake.Answer(ctx, v.Token.Secret(c[0]))
	require.NoError(t, err)
	require.Empty(t, none.Follow)
	h, err := postgres.NewLab(o.staff).History(ctx, c[1])
	require.NoError(t, err)
	require.Equal(t, a.Follow, h.FollowUp)

	// The follow-up comes: the same sender still, and the answer stops asking for it.
	o.take(o.visit(sample.Already, o.townships[o.counties[0].ID][1].ID, 2020, a.Follow))
	require.Equal(t, 1, o.count(`SELECT count(DISTINCT coalesce(x.merged_into, x.id)) FROM priv.sample s JOIN priv.sender x ON x.id = s.sender`))
	a, err = intake.Answer(ctx, v.Token.Secret(c[1]))
	require.NoError(t, err)
	require.Empty(t, a.Follow)
	h, err = postgres.NewLab(o.staff).History(ctx, h.FollowUp)
	require.NoError(t, err)
	require.Equal(t, c[1], h.Follows)
	_, _, err = store.FollowUp(ctx, desk.ID{1}, 2020, date(2020, 11, 4))
	require.ErrorIs(t, err, fault.ErrNotFound)
}

func TestRecipesAreAddedAndNeverChanged(t *testing.T) {
	o := newOffice(t)
	ctx, levels := ctxOf(t), postgres.NewLevels(o.staff)
	r := desk.Recipe{Method: assay.NewMethod("own_recipe", 250, 50, 1), Sieves: "elutriator"}
	for range 2 {
		require.NoError(t, levels.AddMethod(ctx, r))
	}
	r.Recovery = 0.8
	require.NoError(t, levels.AddMethod(ctx, r))
	require.Error(t, levels.AddMethod(ctx, desk.Recipe{}))
	list, err := levels.Recipes(ctx)
	require.NoError(t, err)
	require.Len(t, list, len(assay.PresetMethods())+2, "the same recipe twice is one")
	last := list[len(list)-1]
	require.Equal(t, 2, last.Version)
	require.Equal(t, 0.8, last.Recovery)
	require.Equal(t, "elutriator", last.Sieves)
}
