package main

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net/http"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/audit"
	"sixmile/internal/postgres"
)

// The whole demo holds against the audit, pages included; and whatever is then
// made wrong, in the public tables or on a page, is found.
func TestAuditOfTheDemo(t *testing.T) {
	data := folder(t)
	code, _, errs := try(t, "", "demo", "--only", "--data="+data)
	require.Zero(t, code, errs)
	t.Run("annual summary", func(t *testing.T) { annualOfTheDemo(t, data) })
	code, out, errs := try(t, "", "audit", "--demo", "--pages", "--data="+data)
	require.Zero(t, code, "%s\n%s", out, errs)
	require.Regexp(t, `12 editions, \d{3} tranches, \d{5} figures of pages, \d+ checks: nothing found\.`, out)

	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Minute)
	defer cancel()
	o, err := database{Data: data}.login(ctx, "sixmile_demo", io.Discard)
	require.NoError(t, err)
	defer o.close()
	require.NoError(t, o.provision(ctx))
	t.Run("files", func(t *testing.T) { filesOfTheDemo(ctx, t, o) })
	t.Run("pages", func(t *testing.T) { pagesMadeWrong(ctx, t, o) })
	t.Run("features", func(t *testing.T) { featuresByGDAL(ctx, t, o) })

	admin, err := postgres.Open(ctx, o.logins.Admin+" options='-c session_replication_role=replica'")
	require.NoError(t, err)
	defer admin.Close()
	_, err = admin.Exec(ctx, `INSERT INTO open.withdrawal VALUES (5, 'other', '2026-01-20')`)
	require.NoError(t, err)
	code, out, errs = try(t, "", "audit", "--demo", "--pages", "--data="+data)
	require.Zero(t, code, "pages without a withdrawn edition are the sum of what stands: %s\n%s", out, errs)
	for _, c := range []struct{ finds, change, back string }{
		{"digest", `UPDATE open.tranche_count SET n = n + 1 WHERE tranche = 3000001 AND rank = 0`,
			`UPDATE open.tranche_count SET n = n - 1 WHERE tranche = 3000001 AND rank = 0`},
		{"sums", `UPDATE open.tranche SET samples = samples + 1 WHERE id = 5000001`, `UPDATE open.tranche SET samples = samples - 1 WHERE id = 5000001`},
		{"chain", `UPDATE open.edition SET released = released + 320 WHERE no = 4`, `UPDATE open.edition SET released = released - 320 WHERE no = 4`},
		{"code", `UPDATE open.edition SET code = 'AAAA-AA' WHERE no = 2`, ``},
	} {
		_, err := admin.Exec(ctx, c.change)
		require.NoError(t, err)
		code, out, _ := try(t, "", "audit", "--demo", "--data="+data)
		require.Equal(t, 1, code, c.change)
		require.Regexp(t, c.finds+` +\d+ found`, out)
		_, err = admin.Exec(ctx, c.back)
		require.NoError(t, err)
	}
}

// pagesMadeWrong changes one thing a reader sees, on its way out.
func pagesMadeWrong(ctx context.Context, t *testing.T, o *opened) {
	archive, err := postgres.NewArchive(o.public).Read(ctx)
	require.NoError(t, err)
	h, err := handler(ctx, o, site{Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	one := func(s string) string { n, _ := strconv.Atoi(s); return strconv.Itoa(n + 1) }
	for name, c := range map[string]struct {
		path  *regexp.Regexp
		find  *regexp.Regexp
		wrong func(string) string
	}{
		"nothing":                {regexp.MustCompile(`^$`), regexp.MustCompile(`$^`), nil},
		"a number of bags":       {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(<td class="num">)(\d+)(</td>)`), one},
		"a number of the state":  {regexp.MustCompile(`^/$`), regexp.MustCompile(`(<td class="num">)(\d+)(</td>)`), one},
		"the falls":              {regexp.MustCompile(`^/county/`), regexp.MustCompile(`(<td>up to )(\d+)(</td>)`), one},
		"a mark":                 {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(data-mark="found-)(\d)(")`), one},
		"a mark of a file":       {regexp.MustCompile(`^/county/.*\?ink=1$`), regexp.MustCompile(`(data-mark="found-)(\d)(")`), one},
		"a title on the map":     {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(<title>[^<]*; )(\d+)( bags)`), one},
		"a sentence":             {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(<p[^>]*>\s*Eggs found in )(\d+)( of)`), one},
		"a sentence first":       {regexp.MustCompile(`^/$`), regexp.MustCompile(`(<p[^>]*>\s*Eggs found in )(\d+)( of)`), one},
		"a map's description":    {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(<desc[^>]*>[^<]*Eggs found in )(\d+)( of)`), one},
		"a fall figure":          {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(about )(\d+)( bags counted)`), one},
		"a share":                {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(held eggs: )(\d+)( in 100)`), one},
		"the total of a map":     {regexp.MustCompile(`^/county/.*paper`), regexp.MustCompile(`(>)(\d+)( bags, falls up to)`), one},
		"a level's name":         {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(<span>)(low|moderate|high)(</span></td>)`), func(string) string { return "very high" }},
		"a neighbor":             {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(?s)(<table class="near">.*?<tbody>.*?<td[^>]*>\s*)(\d+)( of \d+)`), one},
		"bags without eggs":      {regexp.MustCompile(`^/county/[a-z-]+/worth$`), regexp.MustCompile(`(<td class="num">)(\d+)(</td>)`), one},
		"a find that is none":    {regexp.MustCompile(`^/county/[a-z-]+/worth$`), regexp.MustCompile(`(<span>)(found)(</span></td>)`), func(string) string { return "unconfirmed" }},
		"figures where are none": {regexp.MustCompile(`^/county/[a-z-]+$`), regexp.MustCompile(`(<td class="num">)(–)(</td>)`), func(string) string { return "1" }},
	} {
		t.Run(name, func(t *testing.T) {
			changed := false
			pages, err := pagesOf(ctx, postgres.NewPublished(o.public), http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				var b answered
				b.head = make(http.Header)
				h.ServeHTTP(&b, r)
				body := b.body.Bytes()
				if at := c.find.FindSubmatchIndex(body); !changed && c.path.MatchString(r.URL.RequestURI()) && at != nil {
					changed = true
					body = bytes.Join([][]byte{body[:at[4]], []byte(c.wrong(string(body[at[4]:at[5]]))), body[at[5]:]}, nil)
				}
				w.Write(body) //nolint:errcheck // into memory
			}))
			require.NoError(t, err)
			claims, err := pages.Figures(ctx, pages.Edition)
			if err == nil {
				archive.Claims = claims
				found := audit.Findings(audit.Run(archive, nil))
				if c.wrong == nil {
					require.Empty(t, found)
					return
				}
				require.True(t, changed, "there was nothing to change")
				require.NotEmpty(t, found)
			} else {
				require.NotNil(t, c.wrong, "%v", err)
			}
		})
	}
}
