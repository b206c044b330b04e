// Package parcel writes a copy of the annual summary as one archive: a workbook, a
// file for every table, maps for a geographic information system, a report to
// print, checksums, and how to cite it all. It streams, and what is written depends
// on the copy and the edition alone: there is no clock in it.
package parcel

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/twpayne/go-geom"

	"sixmile/internal/annual"
	"sixmile/internal/catalog"
	"sixmile/internal/geofile"
	"sixmile/internal/place"
	"sixmile/internal/press"
)

// Land hands on the outlines that an edition was drawn on: those of a kind in the
// order of the summary's rows, each with its area in square kilometers.
type Land interface {
	Outlines(ctx context.Context, edition int, kind place.Kind, see func(place.ID, *geom.MultiPolygon, float64) error) error
}

// Program is what the files say of whose they are.
type Program struct {
	Name, State string
	Invented    bool
}

// Options are what a parcel needs beside its book.
type Options struct {
	Lang    *catalog.Lang
	Program Program
	Land    Land
	// AsOf is the day on which the office's figures were read; no matter to the
	// public's copy.
	AsOf time.Time
	// Progress is told of each file that is begun; may be nil.
	Progress func(done, of int, file string)
}

// Write streams the archive. Cancelling the context stops it between files.
func Write[C annual.Copy](ctx context.Context, w io.Writer, b annual.Book[C], o Options) error {
	p := &parcel[C]{b: b, o: o, words: newWords(o, b.Index(), b.Period, b.Name())}
	if err := p.write(ctx, w); err != nil {
		return fmt.Errorf("parcel.Write: %w", err)
	}
	return nil
}

// FileName is what an archive is saved as: it says the edition and the copy.
func FileName[C annual.Copy](b annual.Book[C]) string { return folder(b) + ".zip" }

func folder[C annual.Copy](b annual.Book[C]) string {
	kind, year := "season", b.Period.Year
	if b.Period.Fiscal {
		kind = "fiscal-year"
	}
	name := fmt.Sprintf("annual-%s-%d-%s-%s", kind, year, b.Edition().Code, b.Name())
	if b.Name() == annual.OfficeName {
		name += "-NOT-FOR-RELEASE"
	}
	return name
}

// parcel is one archive being written.
type parcel[C annual.Copy] struct {
	b     annual.Book[C]
	o     Options
	words words
	zip   *zip.Writer
	sums  strings.Builder
}

// entry is a file of the archive.
type entry struct {
	name   string
	packed bool // already: it is stored as it is
	write  func(ctx context.Context, w io.Writer) error
}

func (p *parcel[C]) entries() []entry {
	text := func(s string) func(context.Context, io.Writer) error {
		return func(_ context.Context, w io.Writer) error {
			_, err := io.WriteString(w, s)
			return err
		}
	}
	book := p.workbook()
	out := []entry{
		{"README.txt", false, text(p.words.readMe())},
		{"CITATION.txt", false, text(p.words.citation() + "\n")},
		{"report.pdf", true, func(_ context.Context, w io.Writer) error { return p.report(w) }},
		{"annual.xlsx", true, func(_ context.Context, w io.Writer) error { return book.Write(w) }},
		{"tables/dictionary.csv", false, func(_ context.Context, w io.Writer) error { return press.CSV(w, book.Dictionary()) }},
	}
	for _, t := range p.b.Tables() {
		name := t.Name
		if t.Restricted {
			name = "NOT-FOR-RELEASE-" + name
		}
		out = append(out, entry{"tables/" + name + ".csv", false, func(_ context.Context, w io.Writer) error { return press.CSV(w, t) }})
	}
	drawn := p.drawn()
	for _, d := range drawn {
		out = append(out, entry{"maps/" + d.table.Name + ".geojson", false, func(ctx context.Context, w io.Writer) error {
			return geofile.WriteDrawnGeoJSON(w, p.draw(ctx, d), p.words.facts())
		}})
	}
	return append(out, entry{"maps/annual.gpkg", false, func(ctx context.Context, w io.Writer) error {
		var all []geofile.Drawn
		for _, d := range drawn {
			all = append(all, p.draw(ctx, d))
		}
		return geofile.WriteDrawnGeoPackage(ctx, w, all, p.words.facts())
	}})
}

func (p *parcel[C]) write(ctx context.Context, w io.Writer) error {
	p.zip = zip.NewWriter(w)
	entries := p.entries()
	dir := folder(p.b)
	for i, e := range entries {
		if err := ctx.Err(); err != nil {
			return err
		}
		if p.o.Progress != nil {
			p.o.Progress(i, len(entries)+1, e.name)
		}
		if err := p.entry(ctx, dir, e); err != nil {
			return fmt.Errorf("%s: %w", e.name, err)
		}
	}
	f, err := p.create(dir+"/SHA256SUMS.txt", false)
	if err != nil {
		return err
	}
	if _, err := io.WriteString(f, p.sums.String()); err != nil {
		return err
	}
	if p.o.Progress != nil {
		p.o.Progress(len(entries)+1, len(entries)+1, "")
	}
	return p.zip.Close()
}

// create begins a file; its day is the edition's.
func (p *parcel[C]) create(name string, packed bool) (io.Writer, error) {
	h := &zip.FileHeader{Name: name, Method: zip.Deflate, Modified: p.b.Edition().Released.UTC()}
	if packed {
		h.Method = zip.Store
	}
	return p.zip.CreateHeader(h)
}

func (p *parcel[C]) entry(ctx context.Context, dir string, e entry) error {
	f, err := p.create(dir+"/"+e.name, e.packed)
	if err != nil {
		return err
	}
	sum := sha256.New()
	if err := e.write(ctx, io.MultiWriter(f, sum)); err != nil {
		return err
	}
	// The format of coreutils' sha256sum: checked by "sha256sum -c SHA256SUMS.txt".
	fmt.Fprintf(&p.sums, "%x  %s\n", sum.Sum(nil), e.name)
	return nil
}
