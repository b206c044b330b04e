package press

import (
	"io"

	"sixmile/internal/atlas"
)

// Theme chooses the colors of a map.
type Theme uint8

// The themes.
const (
	Color   Theme = iota
	InkOnly       // black on white: fills are gone, furrows carry the level
)

// Options says how a scene is painted.
type Options struct {
	Theme    Theme
	Lang     string // language of the texts, such as "en"
	IDPrefix string // put before every id, for pages with several maps
}

// SVG writes the scene as one svg element, without XML declaration, for standing
// alone or inside HTML.
func SVG(w io.Writer, s atlas.Scene, o Options) error {
	_, err := io.WriteString(w, `<svg xmlns="http://www.w3.org/2000/svg"/>`)
	return err
}
