package press

import (
	"archive/zip"
	"fmt"
	"io"
	"time"

	"sixmile/internal/atlas"
)

// TitleSlide composes the first slide of a set.
func TitleSlide(title, subtitle, foot string) (atlas.Scene, error) {
	return slide(title, func(c *column, h atlas.Unit) {
		c.y = h * 28 / 100
		c.title(title, c.size*250/100)
		c.gap(35)
		c.block(atlas.SansRegular, c.size, atlas.Muted, 130, subtitle)
		c.y = max(c.y, h*84/100)
		c.block(atlas.SansRegular, c.size*56/100, atlas.Muted, 130, foot)
	})
}

// TextSlide composes a slide of talking points: a heading, a few short lines, and
// a note in small type. More than a room can read fails with ErrNoRoom.
func TextSlide(head string, lines []string, note string) (atlas.Scene, error) {
	return slide(head, func(c *column, h atlas.Unit) {
		size := c.size
		c.title(head, size*160/100)
		c.gap(40)
		c.list(lines, false)
		if note != "" {
			c.y = max(c.y, h*84/100)
			c.size = size * 70 / 100
			c.note(note)
		}
	})
}

// slide composes a slide; its text is set smaller, within reason, until it fits.
func slide(title string, set func(c *column, height atlas.Unit)) (atlas.Scene, error) {
	w, h := atlas.Slide.Size()
	const margin = 1800
	s := blank(title, w, h)
	items, err := fit(h-1100, func(percent atlas.Unit) ([]atlas.Item, atlas.Unit) {
		c := column{x: margin, y: 1400, w: w - 2*margin, size: 860 * percent / 100}
		set(&c, h)
		return c.items, c.y
	})
	if err != nil {
		return s, fmt.Errorf("press.slide %q: %w", title, err)
	}
	s.Items = append(s.Items, items...)
	return s, nil
}

// SlidesZip writes scenes as numbered pictures of SlideSize in one archive, for
// decks of any kind. The date stands on every file: the same scenes give the same
// bytes.
func SlidesZip(w io.Writer, scenes []atlas.Scene, theme Theme, date time.Time) error {
	// Pictures are packed already.
	err := numbered(w, scenes, "png", zip.Store, date, func(f io.Writer, s atlas.Scene) error { return PNG(f, s, SlideSize, theme) })
	if err != nil {
		return fmt.Errorf("press.SlidesZip: %w", err)
	}
	return nil
}

// DrawingsZip is SlidesZip with drawings in the place of pictures: SVG whose
// texts are texts and whose shapes are shapes, for people who want to change a
// slide in a program for drawings or presentations.
func DrawingsZip(w io.Writer, scenes []atlas.Scene, o Options, date time.Time) error {
	err := numbered(w, scenes, "svg", zip.Deflate, date, func(f io.Writer, s atlas.Scene) error { return SVG(f, s, o) })
	if err != nil {
		return fmt.Errorf("press.DrawingsZip: %w", err)
	}
	return nil
}

// numbered writes an archive of a file a scene.
func numbered(w io.Writer, scenes []atlas.Scene, ext string, method uint16, date time.Time, paint func(io.Writer, atlas.Scene) error) error {
	z := zip.NewWriter(w)
	for i, s := range scenes {
		f, err := z.CreateHeader(&zip.FileHeader{Name: fmt.Sprintf("slide-%02d.%s", i+1, ext), Method: method, Modified: date.UTC()})
		if err != nil {
			return err
		}
		if err := paint(f, s); err != nil {
			return fmt.Errorf("slide %d: %w", i+1, err)
		}
	}
	return z.Close()
}
