package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/audit"
	"sixmile/internal/catalog"
	"sixmile/internal/gazette"
	"sixmile/internal/postgres"
)

type auditCommand struct {
	demoToo
	Pages bool `help:"Read the newest map's pages, the annual summary and every map's data for other programs back too, and work every figure in them out again."`
}

// Run attacks what is public and tells what came of it.
func (a auditCommand) Run(ctx context.Context, c console) (err error) {
	o, err := a.open(ctx, c.err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	fmt.Fprintln(c.err, "Reading what is public ...")
	archive, err := postgres.NewArchive(o.public).Read(ctx)
	if err != nil {
		return err
	}
	if len(archive.Editions) == 0 {
		fmt.Fprintln(c.out, "No edition has been released yet: there is nothing to find out.")
		return nil
	}
	if a.Pages {
		if archive.Claims, err = readPages(ctx, c, o); err != nil {
			return err
		}
	}
	editions := newBar(c.err)
	outcomes := audit.Run(archive, func(done, of int) { editions.show("editions", float64(done)/float64(of)) })
	return tellAudit(c.out, archive, outcomes)
}

// errFindings makes the exit code 1.
var errFindings = errors.New("something can be found out that should not be; release nothing until it is understood")

// tellAudit prints a line a check, what it found, and the sum.
func tellAudit(w io.Writer, a audit.Archive, outcomes []audit.Outcome) error {
	tranches, findings := 0, 0
	for _, e := range a.Editions {
		tranches += len(e.Tranches)
	}
	for _, o := range outcomes {
		verdict := "nothing"
		if n := len(o.Found); n > 0 {
			findings += n
			verdict = fmt.Sprintf("%d found", n)
		}
		fmt.Fprintf(w, "%-20s %-8s  %s\n", o.Name, verdict, o.Reason)
		for _, f := range o.Found {
			fmt.Fprintf(w, "%30s  %s\n", "!", f)
		}
	}
	claims := ""
	if a.Claims != nil {
		claims = fmt.Sprintf(", %s of pages", many(len(a.Claims), "figure"))
	}
	fmt.Fprintf(w, "\n%s, %s%s, %s: ", many(len(a.Editions), "edition"), many(tranches, "tranche"), claims, many(len(outcomes), "check"))
	if findings > 0 {
		fmt.Fprintf(w, "%s.\n", many(findings, "finding"))
		return errFindings
	}
	fmt.Fprintln(w, "nothing found.")
	return nil
}

// readPages asks for every public page as anybody would, within this process.
func readPages(ctx context.Context, c console, o *opened) ([]audit.Claim, error) {
	h, err := handler(ctx, o, site{Log: slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelWarn}))})
	if err != nil {
		return nil, err
	}
	pages, err := pagesOf(ctx, postgres.NewPublished(o.public), h)
	if err != nil {
		return nil, err
	}
	counties := newBar(c.err)
	pages.Report = func(done, of int) { counties.show("pages of counties", float64(done)/float64(of)) }
	claims, err := pages.Figures(ctx, pages.Edition)
	if err != nil || pages.Edition == 0 {
		return claims, err
	}
	fmt.Fprintln(c.err, "Reading the annual summary back ...")
	summary, err := annualClaims(ctx, o, pages)
	if err != nil {
		return nil, err
	}
	fmt.Fprintln(c.err, "Reading the features of every edition back ...")
	features, err := featureClaims(ctx, postgres.NewPublished(o.public), h)
	return slices.Concat(claims, summary, features), err
}

// annualClaims reads the public copy of the annual summary back.
func annualClaims(ctx context.Context, o *opened, pages audit.Pages) ([]audit.Claim, error) {
	t := audit.Tables{Source: "annual summary", Edition: pages.Edition, Counties: pages.Counties, Levels: pages.Levels}
	t.Fetch = func(ctx context.Context) ([]byte, error) { return annualCopy(ctx, o, (*annualJob).public) }
	return t.Figures(ctx, pages.Edition)
}

// featureClaims reads the features of every edition that stands back.
func featureClaims(ctx context.Context, published *postgres.Published, h http.Handler) (out []audit.Claim, err error) {
	read, err := featuresOf(ctx, published, h)
	if err != nil {
		return nil, err
	}
	for _, no := range slices.Sorted(maps.Keys(read.Codes)) {
		more, err := read.Figures(ctx, no)
		if err != nil {
			return nil, err
		}
		out = append(out, more...)
	}
	return out, nil
}

// featuresOf is a reader of the features that h serves, of every edition that
// stands.
func featuresOf(ctx context.Context, published *postgres.Published, h http.Handler) (audit.Features, error) {
	f := audit.Features{Codes: map[int]string{}, CountyOf: map[int]int{}, PageSize: 100}
	f.Fetch = func(ctx context.Context, path string) ([]byte, error) { return fetch(ctx, h, path) }
	no, err := published.Latest(ctx)
	if err != nil {
		return f, err
	}
	issue, err := published.Issue(ctx, no)
	if err != nil {
		return f, err
	}
	for _, e := range issue.Editions {
		f.Codes[e.Number] = e.Code
		older, err := published.Issue(ctx, e.Number)
		if err != nil {
			return f, err
		}
		for _, c := range older.Counties {
			for _, t := range c.Townships {
				f.CountyOf[int(t.ID)] = int(c.ID)
			}
		}
	}
	return f, nil
}

// pagesOf is a reader of the pages that h serves.
func pagesOf(ctx context.Context, published *postgres.Published, h http.Handler) (audit.Pages, error) {
	no, err := published.Latest(ctx)
	if err != nil {
		return audit.Pages{}, err
	}
	issue, err := published.Issue(ctx, no)
	if err != nil {
		return audit.Pages{}, err
	}
	p := audit.Pages{Edition: no, Counties: landOf(issue), Levels: levelNames(issue.Scheme)}
	p.Fetch = func(ctx context.Context, path string) ([]byte, error) { return fetch(ctx, h, path) }
	return p, nil
}

func landOf(issue *gazette.Issue) []audit.County {
	var out []audit.County
	for _, c := range issue.Counties {
		county := audit.County{ID: int(c.ID), Slug: c.Slug, Townships: make(map[string]int), Code: c.Code, Codes: make(map[string]int)}
		for _, t := range c.Townships {
			county.Townships[t.Slug], county.Codes[t.Code] = int(t.ID), int(t.ID)
		}
		out = append(out, county)
	}
	return out
}

// levelNames are the words for the levels, lowest first.
func levelNames(s assay.Scheme) []string {
	lang := catalog.English()
	out := make([]string, 0, len(s.Classes))
	for _, c := range s.Classes {
		name := strings.ReplaceAll(c.Name, "_", " ")
		if lang.Has("level." + c.Name) {
			name = lang.SayOf("level", c.Name)
		}
		out = append(out, name)
	}
	return slices.Clip(out)
}

// fetch is a request without a network.
func fetch(ctx context.Context, h http.Handler, path string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://127.0.0.1"+path, nil)
	if err != nil {
		return nil, err
	}
	answer, err := answerOf(h, req)
	if err != nil {
		return nil, err
	}
	if answer.status != http.StatusOK {
		return nil, fmt.Errorf("the answer was %d", answer.status)
	}
	return answer.body.Bytes(), nil
}

// answerOf has a request answered without a network. One that is given up, because
// the command was stopped, is an error.
func answerOf(h http.Handler, req *http.Request) (a *answered, err error) {
	defer func() {
		switch v := recover(); v {
		case nil:
		case http.ErrAbortHandler:
			err = cmp.Or(req.Context().Err(), http.ErrAbortHandler)
		default:
			panic(v)
		}
	}()
	req.RemoteAddr = "127.0.0.1:1"
	a = &answered{head: make(http.Header), status: http.StatusOK}
	h.ServeHTTP(a, req)
	return a, nil
}

// answered keeps an answer.
type answered struct {
	head   http.Header
	body   bytes.Buffer
	status int
}

// Header, Write and WriteHeader make it an http.ResponseWriter.
func (a *answered) Header() http.Header         { return a.head }
func (a *answered) Write(b []byte) (int, error) { return a.body.Write(b) }
func (a *answered) WriteHeader(status int)      { a.status = status }
