package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"runtime"
	"strings"

	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/postgres"
	"sixmile/web/open"
)

type editionFilesCommand struct {
	demoToo
	Number int      `arg:"" help:"The edition's number."`
	County []string `help:"County by name, code or the last part of its address; all counties where it is not given."`
}

// Run writes a list of an edition's files with their hashes, and of what made
// them: the program, the system and the machine.
func (e editionFilesCommand) Run(ctx context.Context, c console) (err error) {
	o, err := e.open(ctx, c.err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	f, err := newEditionFiles(ctx, o, c, e.Number)
	if err != nil {
		return err
	}
	counties, err := mapsCommand{County: e.County}.counties(ctx, o)
	if err != nil {
		return err
	}
	var paths []string
	for _, slug := range counties {
		for _, file := range open.PaperFiles() {
			paths = append(paths, "/county/"+slug+"/paper/"+file)
		}
	}
	fmt.Fprintln(c.out, f.head())
	return f.each(ctx, paths, func(sum, path string) { fmt.Fprintf(c.out, "%s  %s\n", sum, path) })
}

// editionFiles makes the files of one edition anew, as its pages offer them.
type editionFiles struct {
	edition gazette.Edition
	made    string // program, system and machine
	stands  string // what else the pages of the edition go by
	h       http.Handler
}

func newEditionFiles(ctx context.Context, o *opened, c console, no int) (*editionFiles, error) {
	published := postgres.NewPublished(o.public)
	issue, err := published.Issue(ctx, no)
	if errors.Is(err, fault.ErrNotFound) {
		return nil, fmt.Errorf("there is no edition %d", no)
	}
	if err != nil {
		return nil, err
	}
	v, err := published.Version(ctx)
	if err != nil {
		return nil, err
	}
	made, err := madeBy()
	if err != nil {
		return nil, err
	}
	h, err := handler(ctx, o, site{Log: slog.New(slog.NewTextHandler(c.err, &slog.HandlerOptions{Level: slog.LevelError}))})
	stands := fmt.Sprintf("%x", sha256.Sum256(fmt.Appendf(nil, "%d %d %d %s", v.Number, v.Withdrawn, v.Recalled, v.Offices)))
	return &editionFiles{edition: issue.Edition, made: made, stands: stands[:16], h: h}, err
}

// madeBy is the running program by its own bytes, the system and the machine:
// typefaces, compression and arithmetic may differ with each.
func madeBy() (string, error) {
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return "", err
	}
	return fmt.Sprintf("%x %s/%s", sum.Sum(nil)[:16], runtime.GOOS, runtime.GOARCH), nil
}

func (f *editionFiles) head() string {
	return fmt.Sprintf("# edition %d %s, made by %s, standing %s", f.edition.Number, f.edition.Code, f.made, f.stands)
}

// each makes the files of the addresses and tells their hashes.
func (f *editionFiles) each(ctx context.Context, paths []string, tell func(sum, path string)) error {
	q := url.Values{"map": {f.edition.Code}}.Encode()
	for _, path := range paths {
		_, body, err := download(ctx, f.h, path+"?"+q)
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		tell(fmt.Sprintf("%x", sha256.Sum256(body)), path)
	}
	return nil
}

// errOtherFiles makes the exit code 1.
var errOtherFiles = errors.New("the same program makes other files of the edition than it did: restore it from a backup and find out what changed it")

// compare holds a list against the files as they are made now. A list of another
// program, system or machine is not compared: its files may differ and be right.
func (f *editionFiles) compare(ctx context.Context, out io.Writer, list []byte) error {
	head, listed, err := readFileList(list)
	if err != nil {
		return err
	}
	ours := f.head()
	which, _, _ := strings.Cut(ours, ", made by ")
	if of, _, _ := strings.Cut(head, ", made by "); of != which {
		return fmt.Errorf("the list is of another edition: %s", strings.TrimPrefix(of, "# "))
	}
	made, _, _ := strings.Cut(ours, ", standing ")
	if by, _, _ := strings.Cut(head, ", standing "); by != made {
		fmt.Fprintln(out, "The list was made by another program, system or kind of machine: files were not compared. The figures are what counts.")
		return nil
	}
	var differ []string
	err = f.each(ctx, listed.paths, func(sum, path string) {
		if listed.sum[path] != sum {
			differ = append(differ, path)
		}
	})
	if err != nil {
		return err
	}
	for _, path := range differ {
		fmt.Fprintln(out, "differs:", path)
	}
	fmt.Fprintf(out, "%d files compared, %d differ.\n", len(listed.paths), len(differ))
	switch {
	case len(differ) == 0:
		return nil
	case head != ours:
		fmt.Fprintln(out, "Since the list was made an edition came out or was taken back, a group was taken back, or an office changed its hours: pages of older maps say so.")
		return nil
	}
	return errOtherFiles
}

// fileList is what stands in a list, in its order.
type fileList struct {
	paths []string
	sum   map[string]string // by path
}

// readFileList reads what editionFilesCommand wrote.
func readFileList(list []byte) (head string, l fileList, err error) {
	l.sum = make(map[string]string)
	lines := bufio.NewScanner(bytes.NewReader(list))
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSpace(lines.Text())
		if n == 1 {
			head = text
			continue
		}
		sum, path, ok := strings.Cut(text, "  ")
		if _, twice := l.sum[path]; !ok || len(sum) != 2*sha256.Size || !strings.HasPrefix(path, "/county/") || twice {
			return "", l, fmt.Errorf("line %d of the list is none of ours", n)
		}
		l.paths, l.sum[path] = append(l.paths, path), sum
	}
	if err := lines.Err(); err != nil {
		return "", l, err
	}
	if !strings.HasPrefix(head, "# edition ") || len(l.paths) == 0 {
		return "", l, errors.New("this is no list of an edition's files: make one with edition files")
	}
	return head, l, nil
}
