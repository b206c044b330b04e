package main

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"compress/zlib"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/postgres"
)

// layer is one reading of a body: the bytes as they came, or something within.
type layer struct {
	name string
	body []byte
}

// unfold is a body and all that is packed in it: files of an archive and of a
// workbook, streams of a printed page, texts of a picture. Without it a search
// would see packed bytes only.
func unfold(name string, body []byte) []layer {
	out := []layer{{name, body}}
	within := func(part string, r io.Reader) {
		if b, err := io.ReadAll(io.LimitReader(r, 64<<20)); err == nil || len(b) > 0 {
			out = append(out, unfold(name+"!"+part, b)...)
		}
	}
	switch {
	case bytes.HasPrefix(body, []byte("PK\x03\x04")):
		z, err := zip.NewReader(bytes.NewReader(body), int64(len(body)))
		if err != nil {
			return out
		}
		out = append(out, layer{name + "!comment", []byte(z.Comment)})
		for _, f := range z.File {
			out = append(out, layer{name + "!" + f.Name + " heading", append([]byte(f.Name+f.Comment), f.Extra...)})
			if r, err := f.Open(); err == nil {
				within(f.Name, r)
			}
		}
	case bytes.HasPrefix(body, []byte("\x1f\x8b")):
		if r, err := gzip.NewReader(bytes.NewReader(body)); err == nil {
			within("gzip", r)
		}
	case bytes.HasPrefix(body, []byte("%PDF")):
		for i, s := range bytes.Split(body, []byte("stream"))[1:] {
			if r, err := zlib.NewReader(bytes.NewReader(bytes.TrimLeft(s, "\r\n"))); err == nil {
				within(fmt.Sprint("stream ", i), r)
			}
		}
	case bytes.HasPrefix(body, []byte("\x89PNG\r\n\x1a\n")):
		for _, c := range chunks(body) {
			if _, packed, ok := bytes.Cut(c.body, []byte{0, 0}); ok && c.name == "zTXt" {
				if r, err := zlib.NewReader(bytes.NewReader(packed)); err == nil {
					within(c.name, r)
				}
			}
		}
	}
	return out
}

// chunks are the parts of a PNG (W3C, Portable Network Graphics, section 5.3).
func chunks(png []byte) (out []layer) {
	for at := 8; at+12 <= len(png); {
		n := int(binary.BigEndian.Uint32(png[at:]))
		if n < 0 || at+12+n > len(png) {
			break
		}
		out = append(out, layer{string(png[at+4 : at+8]), png[at+8 : at+8+n]})
		at += 12 + n
	}
	return out
}

// clock is a time of day, as files write one.
var clock = regexp.MustCompile(`(?:D:\d{8}|\d{4}-\d\d-\d\d[T ])(\d\d):?(\d\d):?(\d\d)`)

// spoken is what a file may say of when and by whom it was made: a day of the
// edition, never a time of day, and no person or machine.
func spoken(name string, body []byte) (found []string) {
	switch {
	case bytes.HasPrefix(body, []byte("\x89PNG\r\n\x1a\n")):
		for _, c := range chunks(body) {
			if c.name == "tIME" || c.name == "eXIf" {
				found = append(found, name+": "+c.name)
			}
		}
	case bytes.HasPrefix(body, []byte("%PDF")), strings.HasSuffix(name, "docProps/core.xml"), bytes.HasPrefix(body, []byte("SQLite format 3")):
		for _, m := range clock.FindAllSubmatch(body, -1) {
			if string(m[1])+string(m[2])+string(m[3]) != "000000" {
				found = append(found, name+": "+string(m[0]))
			}
		}
		for _, tag := range []string{"lastModifiedBy>", "dc:creator>"} {
			if _, by, ok := strings.Cut(string(body), tag); ok {
				if by, _, _ = strings.Cut(by, "<"); by != "" && !strings.Contains(by, "Sixmile") && !strings.Contains(by, "SCN") && !strings.Contains(by, "Soil") {
					found = append(found, name+": "+tag+by)
				}
			}
		}
	}
	return found
}

// archives are fetched with the pages: the annual summary, whose files are a
// workbook, tables, maps and a report.
func (l *leaks) archives(ctx context.Context, o *opened) map[string][]byte {
	issue, err := postgres.NewPublished(o.public).Latest(ctx)
	require.NoError(l.t, err)
	newest, err := postgres.NewPublished(o.public).Issue(ctx, issue)
	require.NoError(l.t, err)
	path := "/annual/" + newest.Edition.Code
	code, body := l.ask(http.MethodGet, path, nil)
	require.Equal(l.t, http.StatusOK, code)
	return map[string][]byte{path: body}
}

// Numbers that count up are clocks, and rows in the order of arrival are one too:
// no key of what is somebody's counts up, and an edition's tranches and what is in
// them stand in an order that what is public alone decides.
func orderTellsNothing(ctx context.Context, t *testing.T, admin *postgres.Pool) {
	var counters string
	require.NoError(t, admin.QueryRow(ctx, `
		SELECT coalesce(string_agg(table_schema || '.' || table_name || '.' || column_name, ' ' ORDER BY 1), '')
		  FROM information_schema.columns
		 WHERE table_schema IN ('open', 'priv') AND (is_identity = 'YES' OR column_default LIKE 'nextval%')`).Scan(&counters))
	require.NotRegexp(t, `\b(sample|sender|bundle|bag|bag_link|result|answer_key|form_post|tranche|tranche_member|arrival)\.`, counters, "serial numbers")
	require.NotEmpty(t, counters, "the search finds those of plans and layers")

	var wrong, all int
	require.NoError(t, admin.QueryRow(ctx, `
		SELECT count(*) FILTER (WHERE listed <> public), count(*)
		  FROM (SELECT row_number() OVER (PARTITION BY edition ORDER BY id) AS listed,
		               row_number() OVER (PARTITION BY edition ORDER BY county, kind, places) AS public
		          FROM (SELECT t.edition, t.id, t.county, array_agg(p.place ORDER BY p.place) AS places,
		                       CASE t.kind WHEN 'township' THEN 1 WHEN 'district' THEN 2 ELSE 3 END AS kind
		                  FROM open.tranche t JOIN open.tranche_place p ON p.tranche = t.id
		                 GROUP BY t.id) x) y`).Scan(&wrong, &all))
	require.Greater(t, all, 100)
	require.Zero(t, wrong, "of %d tranches", all)
}
