package main

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"sync/atomic"
	"time"

	"github.com/twpayne/go-geom"

	"sixmile/internal/annual"
	"sixmile/internal/annual/fixture"
	"sixmile/internal/annual/parcel"
	"sixmile/internal/catalog"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/press"
)

// A nation: so many counties, each of so many townships, most with figures.
const (
	nationCounties, countyTownships = 3_100, 29
	mostMemory                      = 200 // MB above what the edition itself takes
)

// nation is its edition.
func nation() *gazette.Issue {
	i := fixture.Ground(nationCounties, countyTownships)
	for _, c := range i.Counties {
		for k, t := range c.Townships {
			i.Tranches = append(i.Tranches, fixture.Tranche(len(i.Tranches)+1, 1+k%3, c.ID, edition.KindTownship, []place.ID{t.ID}, k%5 == 0, counts(k, len(i.Scheme.Classes))...))
		}
	}
	return i
}

func counts(k, classes int) []int {
	if k%5 == 0 {
		classes = 3
	}
	out := make([]int, classes)
	for i := range out {
		out[i] = (k*7 + i*3) % 11
	}
	out[0]++
	return out
}

// counted counts bytes and keeps none.
type counted struct{ n int64 }

func (c *counted) Write(b []byte) (int, error) {
	c.n += int64(len(b))
	return len(b), nil
}

// measureAnnual writes a nation's workbook and tells the most memory in use beyond
// the edition's own while it does.
func measureAnnual(ctx context.Context, put func(row), log io.Writer) error {
	x, err := gazette.NewIndex(nation())
	if err != nil {
		return err
	}
	b, err := annual.ForPublic(catalog.English(), x, annual.Period{Year: 2026})
	if err != nil {
		return err
	}
	book := press.Workbook{Title: "Nation", Date: x.Issue.Edition.Released, Tables: b.Tables(),
		Words: press.WorkbookWords{ReadMe: "Read me", Dictionary: "Dictionary", Total: "All"}}
	var out counted
	start := time.Now()
	peak, err := peakOf(func() error { return book.Write(&out) })
	if err != nil {
		return err
	}
	fmt.Fprintf(log, "workbook of %d counties and %d townships: %.1f s, %.1f MB\n", nationCounties, nationCounties*countyTownships,
		time.Since(start).Seconds(), float64(out.n)/1e6)
	put(against("annual workbook of a nation, memory", "MB", peak, mostMemory, 1))
	return measureArchive(ctx, b, put, log)
}

// measureArchive writes the whole archive, with the report and the maps, and tells
// how long each file of it takes.
func measureArchive(ctx context.Context, b annual.Book[annual.Public], put func(row), log io.Writer) error {
	o := parcel.Options{Lang: catalog.English(), Land: squares{b.Index().Issue}, Program: parcel.Program{Name: "Nation", State: "Nation", Invented: true}}
	last, begun := "", time.Now()
	o.Progress = func(_, _ int, file string) {
		if last != "" {
			fmt.Fprintf(log, "  %-28s %6.1f s\n", last, time.Since(begun).Seconds())
		}
		last, begun = file, time.Now()
	}
	var out counted
	start := time.Now()
	peak, err := peakOf(func() error { return parcel.Write(ctx, &out, b, o) })
	if err != nil {
		return err
	}
	fmt.Fprintf(log, "archive: %.1f s, %.1f MB\n", time.Since(start).Seconds(), float64(out.n)/1e6)
	put(against("annual archive of a nation, memory", "MB", peak, mostMemory, 1))
	return nil
}

// squares hands on every place of an edition as a square, in the order of rows.
type squares struct{ issue *gazette.Issue }

func (s squares) Outlines(_ context.Context, _ int, kind place.Kind, see func(place.ID, *geom.MultiPolygon, float64) error) error {
	for n, c := range s.issue.Counties {
		x, y := -100+float64(n%60)*0.6, 25+float64(n/60)*0.4
		if kind == place.County {
			if err := see(c.ID, plot(x, y, 0.5), 2400); err != nil {
				return err
			}
			continue
		}
		for k, t := range c.Townships {
			if err := see(t.ID, plot(x+float64(k%6)*0.08, y+float64(k/6)*0.08, 0.08), 93.2); err != nil {
				return err
			}
		}
	}
	return nil
}

func plot(x, y, size float64) *geom.MultiPolygon {
	return geom.NewMultiPolygonFlat(geom.XY, []float64{x, y, x + size, y, x + size, y + size, x, y + size, x, y}, [][]int{{10}})
}

// peakOf is the most heap in use while do runs, beyond what was before, in MB,
// looked at every few milliseconds.
func peakOf(do func() error) (float64, error) {
	runtime.GC()
	var before, now runtime.MemStats
	runtime.ReadMemStats(&before)
	var most atomic.Uint64
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			runtime.ReadMemStats(&now)
			most.Store(max(most.Load(), now.HeapInuse))
			select {
			case <-stop:
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	err := do()
	close(stop)
	<-stopped
	return max(float64(most.Load())-float64(before.HeapInuse), 0) / 1e6, err
}
