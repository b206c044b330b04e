package main

import (
	"bytes"
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
	"sixmile/internal/postgres"
	"sixmile/web"
	"sixmile/web/shell"
)

// leaks is the demo with things planted in it that nobody outside may ever see.
type leaks struct {
	t       *testing.T
	data    string
	h       http.Handler
	log     *bytes.Buffer
	heads   bytes.Buffer      // of every answer, after its address
	planted map[string]string // what must not show: by what it is
}

// plant takes things that are in the demo's private schema already, and puts
// one of its own into every text of it.
func (l *leaks) plant(ctx context.Context, admin *postgres.Pool) {
	hash, err := account.NewHasher().Hash(ctx, "the canary's own phrase")
	require.NoError(l.t, err)
	l.planted = map[string]string{"staff login": "canarylogin", "staff name": "Canary Person", "staff hash": hash, "staff address": "canarymail@office.example"}
	_, err = admin.Exec(ctx, `INSERT INTO priv.staff (login, name, hash, role) VALUES ('canarylogin', 'Canary Person', $1, 'technician')`, hash)
	require.NoError(l.t, err)
	_, err = admin.Exec(ctx, `INSERT INTO priv.staff_address SELECT id, 'canarymail@office.example' FROM priv.staff WHERE login = 'canarylogin'`)
	require.NoError(l.t, err)
	for what, sql := range map[string]string{
		"waiting sample":  `SELECT sample::text FROM priv.arrival WHERE tranche IS NULL AND result IS NOT NULL ORDER BY sample LIMIT 40`,
		"released sample": `SELECT sample::text FROM priv.tranche_member ORDER BY sample LIMIT 40`,
		"sender":          `SELECT id::text FROM priv.sender ORDER BY id LIMIT 40`,
		"result":          `SELECT id::text FROM priv.result ORDER BY id LIMIT 40`,
		"bundle":          `SELECT id::text FROM priv.bundle ORDER BY id LIMIT 40`,
		"staff":           `SELECT id::text FROM priv.staff`,
		"login":           `SELECT login FROM priv.staff WHERE length(login) > 8`,
		"bag code":        `SELECT bag FROM priv.bag_link ORDER BY bag LIMIT 40`,
		"printed code":    `SELECT substr(bag, 1, 4) || '-' || substr(bag, 5) FROM priv.bag_link ORDER BY bag LIMIT 40`,
		"answer key":      `SELECT encode(hash, 'hex') FROM priv.answer_key ORDER BY hash LIMIT 40`,
	} {
		rows, err := admin.Query(ctx, sql)
		require.NoError(l.t, err, what)
		values, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(l.t, err, what)
		require.NotEmpty(l.t, values, what)
		for _, v := range values {
			l.planted[what+" "+v] = v
		}
	}
}

// search lists what of the planted things is in a body or in anything packed in it,
// and what its files say of their making.
func (l *leaks) search(where string, body []byte) (found []string) {
	for _, part := range unfold(where, body) {
		found = append(append(found, l.plain(part.name, part.body)...), spoken(part.name, part.body)...)
	}
	return found
}

// plain lists what of the planted things is in the bytes, written in any of the
// ways it could be.
func (l *leaks) plain(where string, body []byte) (found []string) {
	low := bytes.ToLower(body)
	for what, v := range l.planted {
		ways := []string{v, strings.ReplaceAll(v, "-", ""), url.QueryEscape(v)}
		slices.Sort(ways)
		for _, way := range slices.Compact(ways) { // most are written in one way or two
			if bytes.Contains(low, bytes.ToLower([]byte(way))) {
				found = append(found, where+": "+what)
				break
			}
		}
		if raw, err := hex.DecodeString(strings.ReplaceAll(v, "-", "")); err == nil && len(raw) >= 16 && bytes.Contains(body, raw) {
			found = append(found, where+": "+what+" in bytes")
		}
	}
	return found
}

// ask is a visitor's request.
func (l *leaks) ask(method, path string, form url.Values) (int, []byte) {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, path, body)
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	r.RemoteAddr = "192.0.2.77:4711"
	r.Header.Set("User-Agent", "canaryagent")
	w := httptest.NewRecorder()
	l.h.ServeHTTP(w, r)
	fmt.Fprintf(&l.heads, "%s\r\n", path)
	require.NoError(l.t, w.Header().Write(&l.heads))
	return w.Code, w.Body.Bytes()
}

// mostOf is how many addresses of one kind are fetched: drawn files and features,
// each made by one function for every county; the choices of a page; the pages of
// a county. With SIXMILE_LARGE=1 every page of every county is, in one language.
func mostOf(path string) (kind string, most int) {
	page, _, choice := strings.Cut(path, "?")
	_, other := shell.TongueOf(page)
	parts := strings.Split(other, "/")
	if strings.Contains(page, "/paper/") {
		return filepath.Base(page), 2
	}
	if strings.Contains(page, "/features/") {
		return "features " + fmt.Sprint(len(parts), choice), 12
	}
	most = 1
	if len(parts) > 2 && parts[1] == "county" {
		parts[2] = "*"
		switch most = 4; {
		case other != page || choice:
			most = 2
		case os.Getenv("SIXMILE_LARGE") != "":
			most = 100
		}
	} else if choice {
		most = 5
	}
	return fmt.Sprint(page[:len(page)-len(other)], strings.Join(parts, "/"), choice), most
}

// crawl follows every address that public pages name, as far as they go.
func (l *leaks) crawl(start ...string) (pages map[string][]byte) {
	pages = map[string][]byte{}
	fetched := map[string]int{}
	queue := slices.Clone(start)
	for len(queue) > 0 && len(pages) < 900 {
		path := queue[0]
		queue = queue[1:]
		if _, done := pages[path]; done || strings.HasPrefix(path, "/office") {
			continue
		}
		kind, most := mostOf(path)
		if fetched[kind]++; fetched[kind] > most {
			continue
		}
		code, body := l.ask(http.MethodGet, path, nil)
		require.Less(l.t, code, 500, path)
		pages[path] = body
		doc, err := goquery.NewDocumentFromReader(bytes.NewReader(body))
		if err != nil {
			continue
		}
		doc.Find("a[href], link[href], img[src], script[src]").Each(func(_ int, s *goquery.Selection) {
			for _, a := range []string{"href", "src"} {
				if to, ok := s.Attr(a); ok && strings.HasPrefix(to, "/") {
					to, _, _ = strings.Cut(to, "#")
					queue = append(queue, to)
				}
			}
		})
	}
	return pages
}

// What is planted in samples, senders, bags and staff is in no public byte: pages,
// drawings and files that they lead to, headers, error pages; in no line of the
// program's log or of PostgreSQL's, and in none of its temporary files.
func TestNothingPlantedShows(t *testing.T) {
	data := folder(t)
	code, _, errs := try(t, "", "demo", "--only", "--data="+data)
	require.Zero(t, code, errs)
	ctx, cancel := context.WithTimeout(context.Background(), 9*time.Minute)
	defer cancel()
	o, err := database{Data: data}.login(ctx, "sixmile_demo", io.Discard)
	require.NoError(t, err)
	defer o.close()
	require.NoError(t, o.provision(ctx))
	admin, err := postgres.Open(ctx, o.logins.Admin)
	require.NoError(t, err)
	defer admin.Close()

	l := &leaks{t: t, data: data, log: &bytes.Buffer{}}
	day := today()
	meter := web.NewMeter("test", func() time.Time { return day }, map[string]func() web.Pool{"public": stand(o.public), "staff": stand(o.staff)})
	l.h, err = handler(ctx, o, site{Watch: meter.Watch, Log: slog.New(slog.NewTextHandler(l.log, &slog.HandlerOptions{Level: slog.LevelDebug}))})
	require.NoError(t, err)
	l.plant(ctx, admin)

	var found []string
	pages := l.crawl("/", "/send", "/help", "/bags")
	require.Greater(t, len(pages), 20)
	maps.Copy(pages, l.archives(ctx, o))
	l.everyFormat(pages)
	for path, body := range pages {
		found = append(found, l.search(path, body)...)
	}
	require.Empty(t, found)
	require.Empty(t, l.search("headers", l.heads.Bytes()))
	require.Empty(t, l.mistakes())
	day = day.AddDate(0, 0, 1) // what is told a day late is told now
	l.numbers(meter)
	orderTellsNothing(ctx, t, admin)
	require.Empty(t, l.search("the program's log", l.log.Bytes()))
	for _, personal := range []string{"192.0.2.77", "canaryagent"} {
		require.NotContains(t, l.log.String(), personal)
	}
	require.NotEmpty(t, l.log.String())

	// A statement that fails within the database, with values in it.
	_, err = admin.Exec(ctx, `INSERT INTO priv.staff (login, name, hash, role) VALUES ('canarylogin', 'Canary Person', '', 'clerk')`, pgx.QueryExecModeSimpleProtocol)
	require.Error(t, err)
	server, err := os.ReadFile(filepath.Join(data, "server.log"))
	require.NoError(t, err)
	require.NotEmpty(t, server)
	require.Contains(t, string(server), "starting PostgreSQL")
	require.Empty(t, l.search("PostgreSQL's log", server))
	require.NoError(t, filepath.WalkDir(filepath.Join(data, "postgres"), func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.Contains(path, "pgsql_tmp") {
			body, err := os.ReadFile(path)
			require.NoError(t, err)
			require.Empty(t, l.search(path, body))
		}
		return nil
	}))

	// The search itself works: it finds them all in a dump of what is private.
	var dump []byte
	require.NoError(t, admin.QueryRow(ctx, `
		SELECT convert_to(string_agg(x, ' '), 'UTF8') FROM (
		    SELECT s::text AS x FROM priv.staff s UNION ALL SELECT l::text FROM priv.bag_link l UNION ALL SELECT r::text FROM priv.result r
		    UNION ALL SELECT b::text FROM priv.bundle b UNION ALL SELECT k::text FROM priv.answer_key k UNION ALL SELECT d::text FROM priv.sender d
		    UNION ALL SELECT m::text FROM priv.tranche_member m UNION ALL SELECT a::text FROM priv.staff_address a) x`).Scan(&dump))
	require.Len(t, slices.DeleteFunc(l.search("dump", dump), func(f string) bool { return strings.HasSuffix(f, "in bytes") }), len(l.planted))
}

// mistakes sends in what goes wrong, with planted things in it: the answers and
// the log must not tell whether they exist. What a visitor typed may come back
// to the same visitor, and nothing else that is planted may come with it.
func (l *leaks) mistakes() (found []string) {
	var code, login string
	for what, v := range l.planted {
		if strings.HasPrefix(what, "bag code") {
			code = v
		}
	}
	try := func(method, path string, form url.Values, typed ...string) {
		status, body := l.ask(method, path, form)
		require.Less(l.t, status, 500, path)
		for _, f := range l.search("answer to "+path, body) {
			if !slices.ContainsFunc(typed, func(v string) bool { return strings.Contains(strings.ReplaceAll(f, "-", ""), v) }) {
				found = append(found, f)
			}
		}
	}
	try(http.MethodPost, "/send", url.Values{"bag": {code}, "county": {"nowhere"}}, code)
	try(http.MethodPost, "/answer", url.Values{"code": {code}, "words": {"four words of nobody"}}, code)
	for _, path := range []string{"/answer/AAAAAAAAAAAAAAAAAAAAAA", "/county/" + code, "/county/canarylogin?bag=" + code, "/no-such-page/" + code,
		"/annual/" + code, "/features/collections/townships/items?county=" + code, "/edition/" + code} {
		try(http.MethodGet, path, nil, code, "canarylogin", "staff login")
	}
	for _, login = range []string{"canarylogin", "nobodyhere"} {
		// The page says whom to ask: a coordinator, as one of the demo's is called.
		try(http.MethodPost, "/office/sign-in", url.Values{"login": {login}, "password": {"not the phrase"}}, login, "staff login", "login coordinator")
	}
	return found
}

// everyFormat: the pages that were searched are of every kind that there is, so
// that none is passed over because nothing leads to it any more.
func (l *leaks) everyFormat(pages map[string][]byte) {
	kinds := map[string]int{}
	for path, body := range pages {
		for _, part := range unfold(path, body) {
			name, _, _ := strings.Cut(part.name, "?")
			kinds[strings.TrimPrefix(filepath.Ext(name), ".")]++
		}
	}
	for _, kind := range []string{"svg", "png", "pdf", "zip", "xlsx", "csv", "geojson", "gpkg", "txt", "css", "js"} {
		require.NotZero(l.t, kinds[kind], "%s: %v", kind, kinds)
	}
}

// numbers: what the server tells whoever watches it names routes, no address.
func (l *leaks) numbers(m *web.Meter) {
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	require.Contains(l.t, w.Body.String(), `route="/county/{`)
	require.Empty(l.t, l.search("metrics", w.Body.Bytes()))
	for _, typed := range []string{"192.0.2.77", "canaryagent", "no-such-page", "AAAAAAAA"} {
		require.NotContains(l.t, w.Body.String(), typed)
	}
}
