package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"io"
	"time"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

// measurePaint times drawings of a county of about forty townships that shows
// every level, and of a state of two thousand.
func measurePaint(_ context.Context, put func(row), _ io.Writer) error {
	county := fixture.AllClasses()
	day := time.Date(2027, time.January, 15, 0, 0, 0, 0, time.UTC)
	for _, m := range []struct {
		name  string
		limit float64 // ms
		do    func() error
	}{
		{"compose a county and draw it as SVG", 3, func() error {
			return press.SVG(io.Discard, atlas.ComposeCounty(county, atlas.Screen), press.Options{})
		}},
		{"PNG 1920×1080", 150, func() error {
			return press.PNG(io.Discard, atlas.ComposeCounty(county, atlas.Slide), press.SlideSize, press.Color)
		}},
		{"PDF letter", 60, func() error {
			return press.PDF(io.Discard, []atlas.Scene{atlas.ComposeCounty(county, atlas.LetterWide)}, press.PDFOptions{Title: "County", Lang: "en", Date: day})
		}},
	} {
		s, err := best(8, m.do)
		if err != nil {
			return err
		}
		put(within(m.name, "ms", s*1000, m.limit))
	}
	state := fixture.Townships(50, 40)
	var svg bytes.Buffer
	s, err := best(5, func() error {
		svg.Reset()
		return press.SVG(&svg, atlas.ComposeState(state, atlas.Screen), press.Options{})
	})
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	if _, err := w.Write(svg.Bytes()); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	put(within("state of 2,000 townships, composed and drawn", "ms", s*1000, 15))
	put(within("the same, gzip", "kB", float64(packed.Len())/1000, 150))
	return nil
}
