package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"mime"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/alecthomas/kong"

	"sixmile/internal/postgres"
	"sixmile/web/open"
)

type mapsCommand struct {
	demoToo
	County  []string `help:"County by name, code or the last part of its address; all counties where it is not given."`
	Out     string   `help:"Folder for the files; it is made if it is not there." required:"" type:"path" placeholder:"DIR"`
	File    []string `help:"Which files: ${files}; all where it is not given." placeholder:"NAME"`
	Map     string   `help:"Code of the map's edition, such as it is printed on it; the newest where it is not given." placeholder:"CODE"`
	Show    string   `help:"What the map shows: ${shows}." default:"highest"`
	Paper   []string `help:"Paper: ${papers}; may be given more than once." default:"letter-wide"`
	Look    string   `help:"color, ink (black and white) or dark (a projector in a dark room)." default:"color"`
	Without []string `help:"Leave off: neighbors, rivers, roads, ridge, towns."`
}

// Run writes the files that the pages offer, byte for byte.
func (m mapsCommand) Run(ctx context.Context, c console) (err error) {
	o, err := m.open(ctx, c.err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	h, err := handler(ctx, o, site{Log: slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelError}))})
	if err != nil {
		return err
	}
	counties, err := m.counties(ctx, o)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(m.Out, 0o755); err != nil {
		return err
	}
	return m.write(ctx, c, h, counties)
}

// counties are the last parts of the addresses of those asked for.
func (m mapsCommand) counties(ctx context.Context, o *opened) ([]string, error) {
	published := postgres.NewPublished(o.public)
	no, err := published.Latest(ctx)
	if err != nil {
		return nil, err
	}
	issue, err := published.Issue(ctx, no)
	if err != nil {
		return nil, err
	}
	var all, names []string
	found := make(map[string]string)
	for _, county := range issue.Counties {
		all, names = append(all, county.Slug), append(names, county.Name)
		for _, name := range []string{county.Slug, county.Name, county.Code} {
			found[strings.ToLower(name)] = county.Slug
		}
	}
	if len(m.County) == 0 {
		return all, nil
	}
	var out []string
	for _, name := range m.County {
		slug, known := found[strings.ToLower(name)]
		if !known {
			return nil, fmt.Errorf("there is no county %q; there are %s", name, strings.Join(names, ", "))
		}
		out = append(out, slug)
	}
	return out, nil
}

func (m mapsCommand) write(ctx context.Context, c console, h http.Handler, counties []string) error {
	written := make(map[string]bool)
	for _, slug := range counties {
		for _, file := range m.files() {
			for _, paper := range m.Paper {
				name, body, err := download(ctx, h, "/county/"+slug+"/paper/"+file+"?"+m.question(paper))
				if err != nil {
					return fmt.Errorf("%s of %s: %w", file, slug, err)
				}
				if written[name] { // another paper makes no difference to it
					continue
				}
				written[name] = true
				if err := os.WriteFile(filepath.Join(m.Out, name), body, 0o644); err != nil {
					return err
				}
				fmt.Fprintln(c.out, name)
			}
		}
	}
	return nil
}

func (m mapsCommand) files() []string {
	if len(m.File) > 0 {
		return m.File
	}
	return open.PaperFiles()
}

func (m mapsCommand) question(paper string) string {
	q := url.Values{"show": {m.Show}, "paper": {paper}, "look": {m.Look}, "without": m.Without}
	if m.Map != "" {
		q.Set("map", strings.ToUpper(m.Map))
	}
	return q.Encode()
}

// errNoSuchMap is what the address of something unknown leads to.
var errNoSuchMap = errors.New("there is no such map: see --help for what can be asked for, and a county's page for the codes of its maps")

// download asks for a file as a browser would, and for where it is sent to.
func download(ctx context.Context, h http.Handler, path string) (name string, body []byte, err error) {
	for range 2 {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://127.0.0.1"+path, nil)
		if err != nil {
			return "", nil, err
		}
		a, err := answerOf(h, req)
		if err != nil {
			return "", nil, err
		}
		switch a.status {
		case http.StatusOK:
			_, params, err := mime.ParseMediaType(a.head.Get("Content-Disposition"))
			if err != nil {
				return "", nil, err
			}
			return filepath.Base(params["filename"]), a.body.Bytes(), nil
		case http.StatusFound:
			path = a.head.Get("Location")
		case http.StatusNotFound:
			return "", nil, errNoSuchMap
		default:
			return "", nil, fmt.Errorf("the answer was %d", a.status)
		}
	}
	return "", nil, errors.New("the address leads in a circle")
}

// mapVars are the lists in the command's help.
func mapVars() kong.Vars {
	return kong.Vars{"files": strings.Join(open.PaperFiles(), ", "), "shows": strings.Join(open.PaperMeasures(), ", "),
		"papers": strings.Join(open.PaperPapers(), ", ")}
}
