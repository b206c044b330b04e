package postgres_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
	"sixmile/internal/tabular"
)

// entries reads a file of counts to its end, as an upload does.
func entries(t testing.TB, data []byte, today time.Time) (out []desk.Keyed, digest string) {
	t.Helper()
	sheet, err := tabular.Open(data, nil)
	require.NoError(t, err)
	var d tabular.Digest
	with := tabular.Setup{Method: assay.DefaultMethod(), Methods: assay.PresetMethods(), Day: today, Latest: today}
	require.NoError(t, sheet.Each(context.Background(), sheet.Guess(), with, func(r tabular.Row) error {
		require.True(t, r.OK(), "%v", r)
		d.Add(r.Entry)
		out = append(out, desk.Keyed{Code: r.Entry.Code, Method: r.Entry.Method, Count: r.Entry.Count, Report: r.Entry.Report, Day: r.Entry.Day})
		return nil
	}))
	return out, d.Sum()
}

func TestAFileOfCounts(t *testing.T) {
	o := newOffice(t)
	ctx, store := ctxOf(t), postgres.NewUploads(o.staff)
	c := o.bags(5)
	for _, code := range c[:4] {
		o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, code))
	}
	file := func(eggs int) []byte {
		return fmt.Appendf(nil, "Bag code,Eggs 1,Eggs 2,mL,Cyst seen\n%s,42,40,2,no\n%s,0,0,2,no\n%s,%d,90,2,yes\n", c[0], c[1], c[2], eggs)
	}
	list, digest := entries(t, file(10), date(2020, 11, 20))
	day, err := store.Taken(ctx, digest)
	require.NoError(t, err)
	require.True(t, day.IsZero())
	// Two send the same file at once: it is stored once.
	var wg sync.WaitGroup
	taken := make([]int, 3)
	for i := range taken {
		wg.Add(1)
		go func() {
			defer wg.Done()
			n, err := store.Accept(ctx, digest, list, account.ID{}, date(2020, 11, 20))
			if err != nil {
				t.Error(err)
			}
			taken[i] = n
		}()
	}
	wg.Wait()
	require.Equal(t, 3, taken[0]+taken[1]+taken[2])
	require.Equal(t, 3, o.count(`SELECT count(*) FROM priv.result`))
	require.Equal(t, 3, o.count(`SELECT count(*) FROM priv.bag WHERE state = 'counted' AND received = '2020-11-20'`))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.signature`), "nothing of it is signed")
	day, err = store.Taken(ctx, digest)
	require.NoError(t, err)
	require.Equal(t, date(2020, 11, 20), day)
	// The limits are the same as keyed by hand: portions that disagree get wider ones.
	b, err := postgres.NewLab(o.staff).Find(ctx, c[2])
	require.NoError(t, err)
	require.Equal(t, assay.NegBinomial, b.Reading.LimitsBy)
	require.Len(t, b.Count.Aliquots, 2)

	targets, err := store.Targets(ctx, append([]bag.Code{unissued(t)}, c...))
	require.NoError(t, err)
	require.Len(t, targets, 5)
	for i, k := range list {
		require.True(t, targets[k.Code].Same(k), i)
	}
	require.False(t, targets[c[3]].Same(list[0]))
	require.False(t, targets[c[4]].Place, "no form has come")

	// Another figure takes the place of the one that stands, and says why.
	again, digest := entries(t, file(11), date(2020, 11, 21))
	for i := range again {
		require.Equal(t, i != 2, targets[again[i].Code].Same(again[i]), i)
	}
	_, err = store.Accept(ctx, digest, again[2:], account.ID{}, date(2020, 11, 21))
	require.ErrorIs(t, err, fault.ErrConflict, "it has a result by now")
	require.Zero(t, o.count(`SELECT count(*) FROM priv.upload WHERE digest = $1`, digest), "nothing is stored of it")
	again[2].Replaces, again[2].Why = targets[c[2]].Head, assay.Mistyped
	n, err := store.Accept(ctx, digest, again[2:], account.ID{}, date(2020, 11, 21))
	require.NoError(t, err)
	require.Equal(t, 1, n)
	h, err := postgres.NewLab(o.staff).History(ctx, c[2])
	require.NoError(t, err)
	require.Len(t, h.Results, 2)
	require.Equal(t, assay.Mistyped, h.Results[1].Why)
	require.True(t, h.Results[1].Stands)
	require.False(t, h.Results[0].Stands)
}

// All or nothing: one bag without a form, and not a row of the file is stored.
func TestAFileIsStoredWholeOrNotAtAll(t *testing.T) {
	o := newOffice(t)
	c := o.bags(3)
	for _, code := range c[:2] {
		o.take(o.visit(sample.FirstEver, o.counties[0].ID, 2020, code))
	}
	m := assay.DefaultMethod()
	var list []desk.Keyed
	for _, code := range c {
		list = append(list, desk.Keyed{Code: code, Method: m, Count: m.Count(5), Day: date(2020, 11, 1)})
	}
	store := postgres.NewUploads(o.staff)
	for name, bad := range map[string][]desk.Keyed{
		"no form":       list,
		"no such bag":   {list[0], {Code: unissued(t), Method: m, Count: m.Count(1), Day: date(2020, 11, 1)}},
		"twice":         {list[0], list[0]},
		"no method":     {list[0], {Code: c[1], Method: assay.NewMethod("strange", 100, 100, 2), Count: m.Count(1), Day: date(2020, 11, 1)}},
		"a reason only": {list[0], {Code: c[1], Method: m, Count: m.Count(1), Why: assay.Mistyped, Day: date(2020, 11, 1)}},
	} {
		_, err := store.Accept(ctxOf(t), name, bad, account.ID{}, date(2020, 11, 1))
		require.ErrorIs(t, err, fault.ErrConflict, name)
	}
	require.Zero(t, o.count(`SELECT count(*) FROM priv.result`))
	require.Zero(t, o.count(`SELECT count(*) FROM priv.upload`))
}

func TestColumnsAreRemembered(t *testing.T) {
	o := newOffice(t)
	store := postgres.NewUploads(o.staff)
	m, err := store.Memory(ctxOf(t))
	require.NoError(t, err)
	require.Empty(t, m)
	want := tabular.Memory{"our number": {Field: tabular.Code}, "eggs cup": {Field: tabular.Density, Unit: assay.Per250CM3}, "notes": {}}
	require.NoError(t, store.Remember(ctxOf(t), want))
	require.NoError(t, store.Remember(ctxOf(t), want))
	m, err = store.Memory(ctxOf(t))
	require.NoError(t, err)
	require.Equal(t, want, m)
}

// A hundred thousand rows under twenty seconds, reading, looking up and storing,
// with little memory, where SIXMILE_LARGE asks for them; two thousand in every run.
func TestAHundredThousandRows(t *testing.T) {
	o := newOffice(t)
	rows, large := 2_000, os.Getenv("SIXMILE_LARGE") != ""
	if large {
		rows = 100_000
	}
	admin := open(t, o.logins.Admin)
	codes := make([]string, rows)
	var file bytes.Buffer
	file.WriteString("Bag code,Date counted,Eggs 1,mL 1,Eggs 2,mL 2,Eggs 3,mL 3,Cyst seen\r\n")
	for i := range codes {
		c, err := bag.Draw(rand.Reader)
		require.NoError(t, err)
		codes[i] = string(c)
		fmt.Fprintf(&file, "%s,2020-11-20,%d,2,%d,2.5,%d,2,no\r\n", c, i%90, i%80, i%70)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	_, err := admin.Exec(ctx, `
		WITH lot AS (INSERT INTO priv.lot (season, county, issued, bags) VALUES (2020, $2, '2020-08-01', $3) RETURNING id),
		c AS (SELECT gen_random_uuid() AS bundle, gen_random_uuid() AS sample, code FROM unnest($1::text[]) AS t (code)),
		u AS (INSERT INTO priv.bundle (id, lot) SELECT bundle, lot.id FROM c, lot RETURNING id),
		b AS (INSERT INTO priv.bag (code, bundle, position, state, received) SELECT code, bundle, 1, 'soil_in', '2020-11-01' FROM c RETURNING code),
		s AS (INSERT INTO priv.sample (id, place, county, season, day, standing) SELECT sample, $2, $2, 2020, '2020-10-10', 2 FROM c RETURNING id)
		INSERT INTO priv.bag_link SELECT code, sample FROM c`, codes, int32(o.counties[0].ID), rows)
	require.NoError(t, err)
	_, err = admin.Exec(ctx, `ANALYZE`)
	require.NoError(t, err)
	runtime.GC()
	var before runtime.MemStats
	runtime.ReadMemStats(&before)
	most, stop := watchHeap()

	store, start := postgres.NewUploads(o.staff), time.Now()
	list, digest := entries(t, file.Bytes(), date(2020, 11, 20))
	read := time.Since(start)
	all := make([]bag.Code, len(list))
	for i, k := range list {
		all[i] = k.Code
	}
	targets, err := store.Targets(ctx, all)
	require.NoError(t, err)
	require.Len(t, targets, rows)
	looked := time.Since(start)
	var lab [16]byte
	require.NoError(t, admin.QueryRow(ctx, `INSERT INTO priv.staff (login, name, hash, role) VALUES ('lab', 'Lab', '', 'technician') RETURNING id`).Scan(&lab))
	n, err := store.Accept(account.As(ctx, lab), digest, list, lab, date(2020, 11, 20))
	require.NoError(t, err)
	require.Equal(t, rows, n)
	took := time.Since(start)
	stop()
	over := (max(most.Load(), before.HeapAlloc) - before.HeapAlloc) >> 20
	t.Logf("%d rows: read in %v, looked up by %v, stored by %v, heap at most %d MB over", rows,
		read.Round(time.Millisecond), looked.Round(time.Millisecond), took.Round(time.Millisecond), over)
	if large { // a time says nothing of a short file on a busy machine
		require.Less(t, took, 20*time.Second)
	}
	again, err := store.Accept(ctx, digest, list, account.ID{}, date(2020, 11, 20))
	require.NoError(t, err)
	require.Zero(t, again)
	require.Equal(t, rows, o.count(`SELECT count(*) FROM priv.result`))
	require.Equal(t, 1, o.count(`SELECT count(*) FROM priv.trail WHERE action IN ('upload', 'count')`), "a file is one line of the trail")
	require.Less(t, over, uint64(400))
	require.False(t, strings.Contains(digest, " "))
}
