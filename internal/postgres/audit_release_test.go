package postgres_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/audit"
	"sixmile/internal/postgres"
)

// The audit inside a release looks with the public's eyes at what was really
// stored, and what it finds undoes the release whole. Here rows are changed on
// their way into the tables, behind the schema's other checks.
func TestTheAuditInsideARelease(t *testing.T) {
	for name, c := range map[string]struct{ table, change, finds string }{
		"counts":    {"open.tranche_count", "NEW.n := NEW.n + 1", "sums: "},
		"windows":   {"open.tranche", "NEW.through := NEW.through - NEW.id % 2", "windows: "},
		"districts": {"open.tranche", "NEW.kind := 'district'", "which township: "},
		"code":      {"open.edition", "NEW.code := 'AAAA-AA'", "code: "},
		"digest":    {"open.edition", "NEW.digest := sha256('x')", "digest: "},
		"falls":     {"open.fall_figure", "NEW.samples := 5; NEW.finds := 0", "fall minus map: "},
	} {
		t.Run(name, func(t *testing.T) {
			o := newOffice(t)
			o.farms(4, o.townships[o.counties[0].ID][0].ID, 2020, 10)
			o.farms(3, o.townships[o.counties[0].ID][1].ID, 2020, 0)
			o.admin(`ALTER TABLE open.edition DISABLE TRIGGER edition_closed`,
				`CREATE FUNCTION priv.spoil() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN `+c.change+`; RETURN NEW; END $$`,
				`CREATE TRIGGER spoilt BEFORE INSERT ON `+c.table+` FOR EACH ROW EXECUTE FUNCTION priv.spoil()`)
			store := postgres.NewReleases(o.staff)
			cutoff, day := date(2020, 12, 31), date(2021, 1, 15)
			p, err := store.Preview(ctxOf(t), cutoff, day)
			require.NoError(t, err)
			require.Empty(t, p.Audit)
			_, err = store.Release(ctxOf(t), p.Number, cutoff, day, p.Stamp, account.ID{})
			var found *audit.Error
			require.ErrorAs(t, err, &found)
			require.ErrorIs(t, err, audit.ErrFound)
			require.True(t, slices.ContainsFunc(found.Findings, func(f string) bool { return strings.HasPrefix(f, c.finds) }), "%v", found.Findings)
			require.Zero(t, o.count(`SELECT (SELECT count(*) FROM open.edition) + (SELECT count(*) FROM priv.tranche_member)
				+ (SELECT count(*) FROM priv.bag WHERE state = 'released')`), "nothing is left of it")
		})
	}
}

// What the public role cannot read, the audit cannot either: it fails, and the
// release with it.
func TestTheAuditHasThePublicsRights(t *testing.T) {
	o := newOffice(t)
	o.farms(3, o.townships[o.counties[0].ID][0].ID, 2020, 10)
	o.admin(`REVOKE SELECT ON open.tranche_count FROM sixmile_test_public`)
	store := postgres.NewReleases(o.staff)
	p, err := store.Preview(ctxOf(t), date(2020, 12, 31), date(2021, 1, 15))
	require.NoError(t, err)
	_, err = store.Release(ctxOf(t), p.Number, date(2020, 12, 31), date(2021, 1, 15), p.Stamp, account.ID{})
	require.ErrorContains(t, err, "permission denied")
	o.admin(`GRANT SELECT ON open.tranche_count TO sixmile_test_public`)
	_, err = store.Release(ctxOf(t), p.Number, date(2020, 12, 31), date(2021, 1, 15), p.Stamp, account.ID{})
	require.NoError(t, err)
	require.Equal(t, "sixmile_test_staff", o.whoami(), "the connection is the staff's again")
}

func (o *office) whoami() (name string) {
	o.t.Helper()
	require.NoError(o.t, o.staff.QueryRow(ctxOf(o.t), `SELECT current_user`).Scan(&name))
	return name
}

// A preview tells beforehand: here an old edition was tampered with.
func TestThePreviewHasBeenAudited(t *testing.T) {
	o := newOffice(t)
	o.farms(3, o.townships[o.counties[0].ID][0].ID, 2020, 10)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	store := postgres.NewReleases(o.staff)
	o.farms(3, o.townships[o.counties[0].ID][1].ID, 2020, 10)
	p, err := store.Preview(ctxOf(t), date(2021, 2, 10), date(2021, 2, 15)) // too early to release, not to look
	require.NoError(t, err)
	require.Empty(t, p.Audit)
	o.admin(`ALTER TABLE open.tranche_count DISABLE TRIGGER ALL`, `UPDATE open.tranche_count SET n = n + 1 WHERE rank = 0`)
	p, err = store.Preview(ctxOf(t), date(2021, 4, 1), date(2021, 4, 15))
	require.NoError(t, err)
	require.NotEmpty(t, p.Audit)
	_, err = store.Release(ctxOf(t), p.Number, date(2021, 4, 1), date(2021, 4, 15), p.Stamp, account.ID{})
	require.ErrorIs(t, err, audit.ErrFound)
}
