package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"sixmile/internal/bag"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// forgery is a program of five falls whose second edition has been made by the
// real release, taken out again and kept in schema saved, so that somebody with
// the staff role can try to store it by hand with something wrong in it.
type forgery struct {
	*office
	admin *pgxpool.Pool
	// Townships of the first county: four farms this fall; two farms; one bag
	// uncounted; one farm with nearly all bags; three visits of one farm.
	shown, few, blocked, heavy, same place.ID
	late                             bag.Code // received after the cut-off
}

// tables in the order in which an edition's parts are stored.
var ledger = []struct{ schema, name string }{
	{"open", "tranche"}, {"open", "tranche_place"}, {"open", "tranche_count"},
	{"priv", "tranche_member"}, {"priv", "member_result"}, {"open", "fall_figure"}, {"open", "edition"},
}

func newForgery(t *testing.T) *forgery {
	t.Helper()
	f := &forgery{office: newOffice(t)}
	f.admin = open(t, f.logins.Admin)
	county := f.counties[0].ID
	at := f.townships[county]
	f.shown, f.few, f.blocked, f.heavy, f.same = at[0].ID, at[1].ID, at[2].ID, at[3].ID, at[4].ID

	f.farms(3, f.shown, 2020, 10)
	f.release(date(2020, 12, 31), date(2021, 1, 15))
	f.farms(3, county, 2020, 4) // to the remainder after twice two falls
	f.joinedTownships()
	f.farms(4, f.shown, 2024, 20)
	f.farms(2, f.few, 2024, 20)
	f.farms(4, f.blocked, 2024, 0)
	soil := f.bags(1)
	f.take(f.visit(sample.FirstEver, f.blocked, 2024, soil...))
	_, err := f.admin.Exec(ctxOf(t), `UPDATE priv.bag SET state = 'soil_in', received = '2024-11-01' WHERE code = $1`, string(soil[0]))
	require.NoError(t, err)
	f.farms(2, f.heavy, 2024, 5)
	f.fromOneFarm(11, f.heavy, sample.FirstEver)
	f.fromOneFarm(1, f.same, sample.FirstEver)
	f.fromOneFarm(1, f.same, sample.Already)
	f.fromOneFarm(1, f.same, sample.Already)
	f.late = f.bags(1)[0]
	f.take(f.visit(sample.FirstEver, f.few, 2024, f.late))
	f.counted(f.late, 9, date(2025, 1, 5))
	f.release(date(2024, 12, 31), date(2025, 1, 15))
	f.takeOut()
	return f
}

// joinedTownships has three farms send from two townships of a district that
// has nothing else.
func (f *forgery) joinedTownships() {
	f.t.Helper()
	rows, err := f.admin.Query(ctxOf(f.t), `
		SELECT min(township) FROM open.district d JOIN open.place p ON p.id = d.township AND p.county = $1
		 WHERE district NOT IN (SELECT district FROM open.district WHERE township = ANY ($2))
		 GROUP BY district
		UNION ALL
		SELECT max(township) FROM open.district d JOIN open.place p ON p.id = d.township AND p.county = $1
		 WHERE district NOT IN (SELECT district FROM open.district WHERE township = ANY ($2))
		 GROUP BY district`, int32(f.counties[0].ID), []int32{int32(f.shown)})
	require.NoError(f.t, err)
	ids, err := pgx.CollectRows(rows, pgx.RowTo[int32])
	require.NoError(f.t, err)
	require.GreaterOrEqual(f.t, len(ids), 2)
	f.farms(2, place.ID(ids[0]), 2022, 30)
	f.farms(1, place.ID(ids[len(ids)/2]), 2022, 0)
}

func (f *forgery) fromOneFarm(bags int, where place.ID, s sample.Standing) {
	f.t.Helper()
	codes := f.bags(bags)
	f.take(f.visit(s, where, 2024, codes...))
	for _, c := range codes {
		f.counted(c, 7, date(2024, 11, 2))
	}
}

// asOwner runs statements with every trigger and foreign key off.
func (f *forgery) asOwner(statements ...string) {
	f.t.Helper()
	err := pgx.BeginFunc(ctxOf(f.t), f.admin, func(tx pgx.Tx) error {
		for _, sql := range append([]string{`SET LOCAL session_replication_role = replica`}, statements...) {
			if _, err := tx.Exec(ctxOf(f.t), sql); err != nil {
				return fmt.Errorf("%s: %w", sql, err)
			}
		}
		return nil
	})
	require.NoError(f.t, err)
}

func (f *forgery) takeOut() {
	f.t.Helper()
	var sql []string
	for _, t := range ledger {
		of := map[string]string{"edition": "no = 2", "fall_figure": "edition = 2", "tranche": "edition = 2", "tranche_count": "edition = 2",
			"member_result": "edition = 2"}[t.name]
		if of == "" {
			of = "tranche / 1000000 = 2"
		}
		sql = append(sql,
			fmt.Sprintf(`CREATE TABLE saved.%[1]s AS SELECT * FROM %[2]s.%[1]s WHERE %[3]s`, t.name, t.schema, of),
			fmt.Sprintf(`DELETE FROM %s.%s WHERE %s`, t.schema, t.name, of))
	}
	f.asOwner(append([]string{`CREATE SCHEMA saved`}, append(sql,
		`GRANT USAGE ON SCHEMA saved TO PUBLIC`, `GRANT SELECT ON ALL TABLES IN SCHEMA saved TO PUBLIC`)...)...)
	require.Equal(f.t, 1, f.count(`SELECT count(*) FROM open.edition`))
	require.Equal(f.t, 3, f.count(`SELECT count(DISTINCT kind) FROM saved.tranche`), "the edition has a tranche of each kind")
}

const renumber = `
	CREATE TEMP TABLE renum ON COMMIT DROP AS
	SELECT id, 2000000 + row_number() OVER (ORDER BY county, array_position(ARRAY['township', 'district', 'remainder'], kind),
	       (SELECT array_agg(place ORDER BY place) FROM pg_temp.tranche_place WHERE tranche = id))::int AS new FROM pg_temp.tranche;
	UPDATE pg_temp.tranche t SET id = new FROM renum r WHERE r.id = t.id;
	UPDATE pg_temp.tranche_place t SET tranche = new FROM renum r WHERE r.id = t.tranche;
	UPDATE pg_temp.tranche_count t SET tranche = new FROM renum r WHERE r.id = t.tranche;
	UPDATE pg_temp.tranche_member t SET tranche = new FROM renum r WHERE r.id = t.tranche`

// store stores the kept edition by hand, as staff, after changing it. It is
// always rolled back.
func (f *forgery) store(change ...string) error {
	f.t.Helper()
	return f.storeAfter(`SELECT`, change...)
}

// storeAfter is store after another past, made with every check switched off.
func (f *forgery) storeAfter(past string, change ...string) error {
	f.t.Helper()
	ctx := ctxOf(f.t)
	tx, err := f.admin.Begin(ctx)
	require.NoError(f.t, err)
	defer tx.Rollback(context.WithoutCancel(ctx)) //nolint:errcheck // nothing of it is to stay
	for _, sql := range []string{`SET LOCAL session_replication_role = replica`, past,
		`SET LOCAL session_replication_role = origin`, `SET LOCAL ROLE sixmile_test_staff`} {
		_, err := tx.Exec(ctx, sql)
		require.NoError(f.t, err, sql)
	}
	for _, t := range ledger {
		_, err := tx.Exec(ctx, fmt.Sprintf(`CREATE TEMP TABLE %s ON COMMIT DROP AS SELECT * FROM saved.%[1]s`, t.name))
		require.NoError(f.t, err)
	}
	for _, sql := range change {
		_, err := tx.Exec(ctx, sql)
		require.NoError(f.t, err, sql)
	}
	for _, t := range ledger {
		if _, err := tx.Exec(ctx, fmt.Sprintf(`INSERT INTO %s.%s SELECT * FROM pg_temp.%[2]s`, t.schema, t.name)); err != nil {
			return err
		}
	}
	_, err = tx.Exec(ctx, `SET CONSTRAINTS ALL IMMEDIATE`)
	return err
}

// add forges a tranche of a township from the samples of a query.
func add(where place.ID, samples string) string {
	return fmt.Sprintf(`
		INSERT INTO pg_temp.tranche_member SELECT q.id, 2000900 FROM (%s) q;
		INSERT INTO pg_temp.member_result SELECT m.sample, 2, h.id
		  FROM pg_temp.tranche_member m LEFT JOIN priv.head h ON h.sample = m.sample WHERE m.tranche = 2000900 AND h.id IS NOT NULL;
		INSERT INTO pg_temp.tranche SELECT 2000900, 2, 3, p.county, 'township',
		       (SELECT count(*) FROM pg_temp.tranche_member WHERE tranche = 2000900), true, 2024, false
		  FROM open.place p WHERE p.id = %d;
		INSERT INTO pg_temp.tranche_place VALUES (2000900, %[2]d);
		INSERT INTO pg_temp.tranche_count SELECT 2000900, 2, rank, CASE rank WHEN 0 THEN t.samples ELSE 0 END
		  FROM pg_temp.tranche t, generate_series(0, 4) rank WHERE t.id = 2000900`, samples, where) + ";" + renumber
}

func violation(t *testing.T, err error, constraint string) {
	t.Helper()
	var pg *pgconn.PgError
	require.True(t, errors.As(err, &pg), "%v", err)
	require.Equal(t, "23", pg.Code[:2], pg.Message)
	require.Equal(t, constraint, pg.ConstraintName, pg.Message)
}

// The schema keeps the promise against whoever writes SQL as staff.
func TestStaffCannotBreakTheRulesInSQL(t *testing.T) {
	f := newForgery(t)
	require.NoError(t, f.store(), "unchanged, by hand, it may be stored: otherwise what follows would prove nothing")
	require.NoError(t, f.store(renumber))

	from := func(where place.ID, more string) string {
		return fmt.Sprintf(`SELECT s.id FROM priv.sample s JOIN priv.bag_link l ON l.sample = s.id
			WHERE s.place = %d AND s.season = 2024 AND NOT EXISTS (SELECT FROM pg_temp.tranche_member m WHERE m.sample = s.id) %s`, where, more)
	}
	one := func(kind string) string { return `(SELECT min(id) FROM pg_temp.tranche WHERE kind = '` + kind + `')` }
	// One result of a tranche kept back, all sums right.
	keepBack := `
		CREATE TEMP TABLE gone ON COMMIT DROP AS SELECT sample FROM pg_temp.tranche_member WHERE tranche = ` + one("township") + ` LIMIT 1;
		DELETE FROM pg_temp.member_result WHERE sample IN (TABLE gone);
		DELETE FROM pg_temp.tranche_member WHERE sample IN (TABLE gone);
		UPDATE pg_temp.tranche SET samples = samples - 1 WHERE id = ` + one("township") + `;
		UPDATE pg_temp.tranche_count SET n = n - 1 WHERE tranche = ` + one("township") + ` AND n > 0`
	for name, c := range map[string]struct{ change, rule string }{
		"another number": {`UPDATE pg_temp.edition SET no = 3; UPDATE pg_temp.fall_figure SET edition = 3; UPDATE pg_temp.tranche SET edition = 3, id = id + 1000000;
			UPDATE pg_temp.tranche_place SET tranche = tranche + 1000000; UPDATE pg_temp.tranche_count SET tranche = tranche + 1000000, edition = 3;
			UPDATE pg_temp.tranche_member SET tranche = tranche + 1000000; UPDATE pg_temp.member_result SET edition = 3`, "edition_number"},
		"k under three":           {`UPDATE pg_temp.edition SET k = 2; UPDATE pg_temp.tranche SET k = 2`, "edition_k_check"},
		"k not the program's":     {`UPDATE pg_temp.edition SET k = 4; UPDATE pg_temp.tranche SET k = 4 WHERE samples > 3; DELETE FROM pg_temp.tranche WHERE k = 3; DELETE FROM pg_temp.tranche_place WHERE tranche NOT IN (SELECT id FROM pg_temp.tranche); DELETE FROM pg_temp.tranche_count WHERE tranche NOT IN (SELECT id FROM pg_temp.tranche); DELETE FROM pg_temp.tranche_member WHERE tranche NOT IN (SELECT id FROM pg_temp.tranche); DELETE FROM pg_temp.member_result WHERE sample NOT IN (SELECT sample FROM pg_temp.tranche_member)`, "edition_k"},
		"a tranche of another k":  {`UPDATE pg_temp.tranche SET k = 2`, "tranche_edition_k_fkey"},
		"released before cut-off": {`UPDATE pg_temp.edition SET released = '2024-12-30'`, "edition_check"},
		"too soon":                {`UPDATE pg_temp.edition SET released = '2021-03-01', cutoff = '2021-02-01'`, "edition_gap"},
		"a fall not begun":        {`UPDATE pg_temp.edition SET season = 2023`, "edition_season"},
		"rules of its own":        {`INSERT INTO open.parameter_set (id, patience) VALUES (2, 1); UPDATE pg_temp.edition SET parameters = 2`, "edition_k"},
		"no release":              {`UPDATE pg_temp.edition SET kind = 'erratum'`, "edition_season"},
		"no edition":              {`DELETE FROM pg_temp.edition`, "tranche_edition_k_fkey"},

		"numbers that tell": {`UPDATE pg_temp.tranche SET id = id + 7; UPDATE pg_temp.tranche_place SET tranche = tranche + 7;
			UPDATE pg_temp.tranche_count SET tranche = tranche + 7; UPDATE pg_temp.tranche_member SET tranche = tranche + 7`, "tranche_order"},
		"another township":      {fmt.Sprintf(`UPDATE pg_temp.tranche_place SET place = %d WHERE tranche = %s`, f.few, one("township")) + ";" + renumber, "tranche_places"},
		"two townships":         {fmt.Sprintf(`INSERT INTO pg_temp.tranche_place VALUES (%s, %d)`, one("township"), f.few), "tranche_places"},
		"a smaller district":    {`DELETE FROM pg_temp.tranche_place WHERE ctid = (SELECT max(ctid) FROM pg_temp.tranche_place WHERE tranche = ` + one("district") + `)`, "tranche_places"},
		"a remainder of a part": {fmt.Sprintf(`UPDATE pg_temp.tranche_place SET place = %d WHERE tranche = %s`, f.few, one("remainder")), "tranche_places"},
		"another county":        {fmt.Sprintf(`UPDATE pg_temp.tranche SET county = %d WHERE id = %s`, f.counties[1].ID, one("remainder")) + ";" + renumber, "tranche_places"},
		"a finer window":        {`UPDATE pg_temp.tranche SET through = through - 1 WHERE kind = 'district'`, "tranche_window"},
		"this fall and older":   {`UPDATE pg_temp.tranche SET this_fall = true WHERE kind = 'remainder'`, "tranche_window"},
		"not told as this fall": {`UPDATE pg_temp.tranche SET this_fall = false WHERE kind = 'township'`, "tranche_window"},
		"counts over samples":   {`UPDATE pg_temp.tranche_count SET n = n + 1 WHERE rank = 0`, "tranche_sums"},
		"a level more":          {`INSERT INTO pg_temp.tranche_count SELECT id, 2, 5, 0 FROM pg_temp.tranche`, "tranche_sums"},
		"coarse without need": {`UPDATE pg_temp.tranche SET coarse = true; DELETE FROM pg_temp.tranche_count WHERE rank > 0;
			UPDATE pg_temp.tranche_count c SET n = samples FROM pg_temp.tranche t WHERE t.id = c.tranche;
			INSERT INTO pg_temp.tranche_count SELECT id, 2, r, 0 FROM pg_temp.tranche, generate_series(1, 2) r`, "tranche_coarse"},

		"samples over members": {`UPDATE pg_temp.tranche SET samples = samples + 1; UPDATE pg_temp.tranche_count SET n = n + 1 WHERE rank = 0`, "tranche_members"},
		"received too late": {fmt.Sprintf(`INSERT INTO pg_temp.tranche_member SELECT sample, %[1]s FROM priv.bag_link WHERE bag = '%[2]s';
			UPDATE pg_temp.tranche SET samples = samples + 1 WHERE kind = 'township'; UPDATE pg_temp.tranche_count SET n = n + 1
			 WHERE rank = 0 AND tranche = %[1]s`, one("township"), f.late), "tranche_members"},
		"a sample of elsewhere": {fmt.Sprintf(`INSERT INTO pg_temp.tranche_member SELECT id, %[1]s FROM (%[2]s LIMIT 1) q;
			UPDATE pg_temp.tranche SET samples = samples + 1 WHERE kind = 'township'; UPDATE pg_temp.tranche_count SET n = n + 1
			 WHERE rank = 0 AND tranche = %[1]s`, one("township"), from(f.few, "AND day < '2024-12-01'")), "tranche_places"},
		"a bag uncounted":           {add(f.blocked, from(f.blocked, "AND EXISTS (SELECT FROM priv.result r WHERE r.sample = s.id)")), "tranche_waits"},
		"results chosen":            {keepBack, "tranche_whole"},
		"not what was counted":      {`DELETE FROM pg_temp.member_result WHERE ctid = (SELECT min(ctid) FROM pg_temp.member_result)`, "tranche_results"},
		"one farm's bags":           {add(f.heavy, from(f.heavy, "")), "tranche_dominance"},
		"one farm passed for three": {add(f.same, from(f.same, "")), "tranche_senders"},
		"a released sample again":   {`INSERT INTO pg_temp.tranche_member SELECT sample, ` + one("township") + ` FROM priv.tranche_member`, "tranche_member_pkey"},

		"no fall figure":          {`DELETE FROM pg_temp.fall_figure`, "fall_figure"},
		"a fall figure of few":    {fmt.Sprintf(`INSERT INTO pg_temp.fall_figure VALUES (2, %d, 2024, 5, 0, NULL)`, f.counties[1].ID), "fall_figure"},
		"a fall figure of before": {`UPDATE pg_temp.fall_figure SET season = 2022`, "fall_figure"},
		"rounded another way":     {`UPDATE pg_temp.fall_figure SET samples = samples + 5`, "fall_figure"},
		"a highest level told":    {`UPDATE pg_temp.fall_figure SET highest = CASE WHEN highest IS NULL THEN 2 END`, "fall_figure"},
	} {
		t.Run(name, func(t *testing.T) {
			violation(t, f.store(c.change), c.rule)
		})
	}
	require.Equal(t, 1, f.count(`SELECT count(*) FROM open.edition`))
}

// Rules that need another past, made by switching every check off.
func TestStaffCannotShowWhatAReaderCouldNarrowDown(t *testing.T) {
	f := newForgery(t)
	require.NoError(t, f.store())
	for name, c := range map[string]struct{ past, rule string }{
		"boundaries of before": {`INSERT INTO open.boundary_set (id, digest, srid, accepted) SELECT max(id) + 1, sha256('x'), 3857, '2024-01-01' FROM open.boundary_set`, "edition_set"},
		"a district of which most was shown": {`
			WITH t AS (INSERT INTO open.tranche SELECT 1000500 + row_number() OVER (), 1, 3, t.county, 'township', 3, false, 2020, false
			             FROM saved.tranche t JOIN saved.tranche_place p ON p.tranche = t.id WHERE kind = 'district' RETURNING id)
			INSERT INTO open.tranche_place SELECT 1000500 + row_number() OVER (), place
			  FROM saved.tranche t JOIN saved.tranche_place p ON p.tranche = t.id WHERE kind = 'district'`, "tranche_open"},
		"a rest that can only be a few townships": {`
			WITH t AS (INSERT INTO open.tranche SELECT 1000500 + row_number() OVER (), 1, 3, d.county, 'district', 3, false, 2020, false
			             FROM open.place d WHERE kind = 'district' RETURNING id)
			INSERT INTO open.tranche_place SELECT 1000500 + (SELECT count(*) FROM open.place o WHERE o.kind = 'district' AND o.id <= d.id), g.township
			  FROM open.place d JOIN open.district g ON g.district = d.id WHERE d.kind = 'district'`, "tranche_open"},
		"a past result without grouping": {`
			UPDATE priv.sample SET sender = NULL WHERE id = (SELECT m.sample FROM saved.tranche_member m
			  JOIN saved.tranche t ON t.id = m.tranche WHERE t.kind = 'township' LIMIT 1)`, "tranche_grouping"},
		"two numbers tied since": {`
			UPDATE priv.sender SET merged_into = (SELECT min(s.sender::text)::uuid FROM saved.tranche_member m JOIN priv.sample s ON s.id = m.sample
			   JOIN saved.tranche t ON t.id = m.tranche WHERE t.kind = 'district')
			 WHERE id IN (SELECT s.sender FROM saved.tranche_member m JOIN priv.sample s ON s.id = m.sample
			   JOIN saved.tranche t ON t.id = m.tranche WHERE t.kind = 'district')
			   AND id <> (SELECT min(s.sender::text)::uuid FROM saved.tranche_member m JOIN priv.sample s ON s.id = m.sample
			   JOIN saved.tranche t ON t.id = m.tranche WHERE t.kind = 'district')`, "tranche_dominance"},
		"a recount since": {`
			WITH r AS (INSERT INTO priv.result (sample, kind, method, density, day, supersedes, reason)
			SELECT sample, 'density', 1, 7, '2024-12-01', result, 'mistyped' FROM saved.member_result LIMIT 1 RETURNING id),
			b AS (INSERT INTO priv.batch (day) VALUES ('2024-12-01') RETURNING id)
			INSERT INTO priv.signature SELECT r.id, b.id FROM r, b`, "tranche_results"},
		"a recount that nobody signed": {`
			INSERT INTO priv.result (sample, kind, method, density, day, supersedes, reason)
			SELECT sample, 'density', 1, 7, '2024-12-01', result, 'mistyped' FROM saved.member_result LIMIT 1`, "tranche_results"},
	} {
		t.Run(name, func(t *testing.T) {
			violation(t, f.storeAfter(c.past), c.rule)
		})
	}
}

// Nothing is added to an edition that is there, by one transaction or by two.
func TestAnEditionIsClosed(t *testing.T) {
	f := newForgery(t)
	for _, sql := range []string{
		`INSERT INTO open.tranche SELECT 1000002, 1, 3, county, kind, samples, this_fall, through, coarse FROM open.tranche`,
		`INSERT INTO open.tranche_place SELECT (SELECT id FROM open.tranche), max(id) FROM open.place WHERE kind = 'township'`,
		`INSERT INTO open.tranche_count SELECT id, 1, 7, 0 FROM open.tranche`,
		`INSERT INTO open.fall_figure SELECT 1, max(id), 2020, 5, 0 FROM open.place WHERE kind = 'county'`,
		`INSERT INTO priv.tranche_member SELECT sample, (SELECT id FROM open.tranche) FROM saved.tranche_member LIMIT 1`,
		`INSERT INTO priv.member_result SELECT m.sample, 1, h.id FROM priv.tranche_member m JOIN priv.head h ON h.sample = m.sample`,
	} {
		_, err := f.staff.Exec(ctxOf(t), sql)
		var pg *pgconn.PgError
		require.True(t, errors.As(err, &pg), "%s: %v", sql, err)
		require.Contains(t, []string{"edition_closed", "member_result_pkey"}, pg.ConstraintName, sql)
	}
	// A second transaction that began first and looks only later.
	ctx := ctxOf(t)
	tx, err := f.staff.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead})
	require.NoError(t, err)
	defer tx.Rollback(context.WithoutCancel(ctx)) //nolint:errcheck // it fails before
	_, err = tx.Exec(ctx, `SELECT 1 FROM open.edition`)
	require.NoError(t, err)
	f.asOwner(`INSERT INTO open.edition SELECT * FROM saved.edition`)
	_, err = tx.Exec(ctx, `INSERT INTO open.fall_figure SELECT 2, max(id), 2024, 5, 0 FROM open.place WHERE kind = 'county'`)
	if err == nil {
		err = tx.Commit(ctx)
	}
	violation(t, err, "fall_figure_edition_fkey")
}
