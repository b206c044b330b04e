package main

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"sixmile/internal/annual"
	"sixmile/internal/audit"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/postgres"
)

// copies are how each copy is made.
var copies = map[annual.Name]func(*annualJob, context.Context) error{
	annual.PublicName: (*annualJob).public, annual.SponsorName: (*annualJob).sponsor, annual.OfficeName: (*annualJob).office,
}

// annualOfTheDemo looks at all three copies of the demo's summary.
func annualOfTheDemo(t *testing.T, data string) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	o, err := database{Data: data}.login(ctx, "sixmile_demo", io.Discard)
	require.NoError(t, err)
	defer o.close()
	require.NoError(t, o.provision(ctx))
	pages, err := pagesOf(ctx, postgres.NewPublished(o.public), nil)
	require.NoError(t, err)
	issue, err := postgres.NewPublished(o.public).Issue(ctx, pages.Edition)
	require.NoError(t, err)
	x, err := gazette.NewIndex(issue)
	require.NoError(t, err)
	archive, err := postgres.NewArchive(o.public).Read(ctx)
	require.NoError(t, err)
	for _, name := range annual.Names {
		body, err := annualCopy(ctx, o, copies[name])
		require.NoError(t, err)
		again, err := annualCopy(ctx, o, copies[name])
		require.NoError(t, err)
		require.True(t, bytes.Equal(body, again), "%s: the same edition, the same bytes", name)

		// The audit works every public figure in it out again, and lets the attacker at
		// all that is public with it.
		reader := audit.Tables{Source: string(name), Edition: pages.Edition, Counties: pages.Counties, Levels: pages.Levels,
			Fetch: func(context.Context) ([]byte, error) { return body, nil }}
		archive.Claims, err = reader.Figures(ctx, pages.Edition)
		require.NoError(t, err)
		require.Greater(t, len(archive.Claims), 2000)
		require.Empty(t, audit.Findings(audit.Run(archive, nil)), name)
		for i := range archive.Claims {
			if archive.Claims[i].Measure == audit.Finds && archive.Claims[i].Value != "0" {
				archive.Claims[i].Value += "1"
				break
			}
		}
		require.NotEmpty(t, audit.Findings(audit.Run(archive, nil)), "a figure made wrong is found")

		files := unpacked(t, body)
		checksums(t, files)
		markings(t, name, files)
		gdalReads(t, x, name, files)
	}
	sponsorIsRounded(ctx, t, o)
	fiscalYearIsTheOffices(ctx, t, o)
}

// fiscalYearIsTheOffices: a fiscal year begins in the month that the office has
// set, as on its page, unless the command says another.
func fiscalYearIsTheOffices(ctx context.Context, t *testing.T, o *opened) {
	book := postgres.NewMoney(o.staff)
	before, err := book.Calendar(ctx)
	require.NoError(t, err)
	require.NoError(t, book.SetCalendar(ctx, money.Calendar{First: time.October}))
	defer func() { require.NoError(t, book.SetCalendar(ctx, before)) }()
	for begins, first := range map[int]time.Month{0: time.October, 4: time.April} {
		p, err := annualCommand{Fiscal: 2026, Begins: begins}.period(ctx, o, nil)
		require.NoError(t, err)
		require.Equal(t, first, p.From.Month())
	}
	_, err = annualCommand{Fiscal: 2026, Begins: 13}.period(ctx, o, nil)
	require.Error(t, err)
}

// unpacked is an archive's files, by their names below its folder.
func unpacked(t *testing.T, body []byte) map[string][]byte {
	z, err := zip.NewReader(bytes.NewReader(body), int64(len(body)))
	require.NoError(t, err)
	out := make(map[string][]byte)
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		b, err := io.ReadAll(r)
		require.NoError(t, err)
		_, name, _ := strings.Cut(f.Name, "/")
		out[name] = b
	}
	return out
}

func checksums(t *testing.T, files map[string][]byte) {
	lines := strings.Split(strings.TrimSpace(string(files["SHA256SUMS.txt"])), "\n")
	require.Len(t, lines, len(files)-1)
	for _, l := range lines {
		sum, name, _ := strings.Cut(l, "  ")
		require.Equal(t, fmt.Sprintf("%x", sha256.Sum256(files[name])), sum, name)
	}
}

// markings: whatever is not for release says so on each worksheet and page and in
// the names of the office's tables; what is for the public never does. Every file
// of text names the edition.
func markings(t *testing.T, name annual.Name, files map[string][]byte) {
	band := map[annual.Name]string{annual.OfficeName: "OFFICE COPY · NOT FOR RELEASE", annual.SponsorName: "SPONSOR COPY"}[name]
	f, err := excelize.OpenReader(bytes.NewReader(files["annual.xlsx"]))
	require.NoError(t, err)
	defer f.Close()
	for _, sheet := range f.GetSheetList() {
		first, err := f.GetCellValue(sheet, "A1")
		require.NoError(t, err)
		require.Equal(t, band != "", strings.Contains(first, " COPY"), "%s: %s", name, sheet)
	}
	dir := t.TempDir()
	pdf := filepath.Join(dir, "report.pdf")
	require.NoError(t, os.WriteFile(pdf, files["report.pdf"], 0o600))
	text, err := exec.Command("pdftotext", "-layout", pdf, "-").Output()
	require.NoError(t, err)
	sheets := strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
	require.GreaterOrEqual(t, len(sheets), 10)
	require.LessOrEqual(t, len(sheets), 15)
	for i, page := range sheets {
		require.Contains(t, page, "k = 3", "page %d", i+1)
		if band == "" {
			require.NotContains(t, page, " COPY", "page %d", i+1)
		} else {
			require.GreaterOrEqual(t, strings.Count(page, band), 2, "%s: page %d, at its head and foot", name, i+1)
		}
	}
	own := regexp.MustCompile(`^tables/(NOT-FOR-RELEASE-.*|sponsor)\.csv$`)
	for file, body := range files {
		if name == annual.PublicName {
			require.NotRegexp(t, own, file)
		}
		if strings.HasSuffix(file, ".csv") && !strings.HasSuffix(file, "dictionary.csv") || strings.HasSuffix(file, ".geojson") || file == "README.txt" || file == "CITATION.txt" {
			require.Regexp(t, `[2-9A-Z]{4,}-[2-9A-Z]{2}`, string(body), file)
		}
	}
	require.Equal(t, name == annual.OfficeName, files["tables/NOT-FOR-RELEASE-bags.csv"] != nil)
}

// gdalReads: GDAL opens every file of tables and maps, and counts and sums as the
// page does. Areas are its own, on the ellipsoid, against those in the files.
func gdalReads(t *testing.T, x *gazette.Index, name annual.Name, files map[string][]byte) {
	dir := t.TempDir()
	for file, body := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.Base(file)), body, 0o600))
	}
	s, townships := x.State(), 0
	for _, v := range s.Counties {
		townships += len(v.Areas)
	}
	ask := func(file, sql string) []string {
		out := filepath.Join(t.TempDir(), "out.csv")
		text, err := exec.Command("ogr2ogr", "-f", "CSV", out, filepath.Join(dir, file), "-dialect", "SQLite", "-sql", sql).CombinedOutput()
		require.NoError(t, err, "%s: %s", file, text)
		got, err := os.ReadFile(out)
		require.NoError(t, err)
		rows, err := csv.NewReader(bytes.NewReader(got)).ReadAll()
		require.NoError(t, err)
		return rows[1]
	}
	counts := []string{strconv.Itoa(len(s.Counties)), strconv.Itoa(s.Samples), strconv.Itoa(s.Finds)}
	for file, shape := range map[string]string{"annual.gpkg": "geom", "counties.geojson": "geometry"} {
		got := ask(file, "SELECT count(*), sum(bags), sum(with_eggs), sum(area_km2), sum(ST_Area("+shape+", 1)) / 1e6 FROM counties")
		require.Equal(t, counts, got[:3], file)
		ours, theirs := number(t, got[3]), number(t, got[4])
		require.InEpsilon(t, theirs, ours, 1e-5, "%s: square kilometers", file)
	}
	require.Equal(t, counts, ask("counties.csv", "SELECT count(*), sum(CAST(bags AS INTEGER)), sum(CAST(with_eggs AS INTEGER)) FROM counties"))
	own := ask("townships.geojson", "SELECT count(*), count(bags), sum(CASE WHEN with_eggs > 0 THEN 1 ELSE 0 END) FROM townships")
	require.Equal(t, []string{strconv.Itoa(townships), strconv.Itoa(s.Shown), strconv.Itoa(s.WithFinds)}, own, "as the page says")
	require.Equal(t, own, ask("townships.csv", "SELECT count(*), sum(bags <> ''), sum(CAST(with_eggs AS INTEGER) > 0) FROM townships"))
	book, err := exec.Command("ogrinfo", "-ro", "-so", "-al", filepath.Join(dir, "annual.xlsx")).CombinedOutput()
	require.NoError(t, err, string(book))
	rows := townships + 1 // and the totals
	if name != annual.PublicName {
		rows += 2 // the band, and so the headings, which are taken for a row then
	}
	require.Contains(t, string(book), fmt.Sprintf("Layer name: Townships by level\nGeometry: None\nFeature Count: %d", rows))
}

func number(t *testing.T, s string) float64 {
	n, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return n
}

// sponsorIsRounded: beside the public copy's files the sponsor's has one table, and
// every number in it is a multiple of five.
func sponsorIsRounded(ctx context.Context, t *testing.T, o *opened) {
	j, err := annualCommand{}.job(ctx, o)
	require.NoError(t, err)
	j.bill.Fee = money.Cents(2000)
	var b bytes.Buffer
	j.to = func(_ string, write func(io.Writer) error) error { return write(&b) }
	require.NoError(t, j.sponsor(ctx))
	public, err := annualCopy(ctx, o, (*annualJob).public)
	require.NoError(t, err)
	files, open := unpacked(t, b.Bytes()), unpacked(t, public)
	var more []string
	for name, body := range files {
		if open[name] == nil {
			more = append(more, name)
		} else if strings.HasPrefix(name, "tables/") && !strings.HasSuffix(name, "dictionary.csv") {
			require.Equal(t, string(open[name]), string(body), "the same figures as the public's: %s", name)
		}
	}
	require.Equal(t, []string{"tables/sponsor.csv"}, more)
	rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(files["tables/sponsor.csv"], []byte("\ufeff")))).ReadAll()
	require.NoError(t, err)
	require.Contains(t, rows[0], "cost_about")
	at := slices.Index(rows[0], "issued_about")
	for _, r := range rows[1:] {
		for _, cell := range r[at:] {
			if cell != "" {
				n, err := strconv.Atoi(cell)
				require.NoError(t, err)
				require.Zero(t, n%5, r)
			}
		}
	}
}

func TestAnnualCommandRefuses(t *testing.T) {
	for name, args := range map[string][]string{
		"two years": {"--season", "2025", "--fiscal-year", "2026"}, "a fee that is none": {"--fee", "1,50"}, "a broken invoice": {"--copy", "office", "--invoice", "A-1"},
		"an invoice for the public": {"--invoice", "A-1:1:20"}, "an unknown copy": {"--copy", "everyone"},
	} {
		t.Run(name, func(t *testing.T) {
			code, _, errs := try(t, "", append([]string{"annual", "--data", "/nowhere", "--out", t.TempDir()}, args...)...)
			require.NotZero(t, code)
			require.NotContains(t, errs, "/nowhere", "it is refused before a database is looked for")
		})
	}
}
