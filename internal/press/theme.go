package press

import (
	"fmt"

	"sixmile/internal/atlas"
)

// Theme chooses the colors of a map.
type Theme uint8

// The themes.
const (
	Color Theme = iota // the ramp from light to dark
	Ink                // black on white: fills are gone, furrows carry the level
	Dark               // for a projector in a dark room: higher levels shine brighter
)

const (
	white    = "#ffffff"
	ink      = "#17120e"
	softInk  = "#4a4036"
	softPale = "#e9dfd6"
)

// step is one fill of the ramp, with the lines and ridge ticks that lie on it.
type step struct{ fill, line, soft, tick string }

// Codes are softer than furrows where the fill leaves contrast enough for it.
func onLight(fill, tick string) step { return step{fill, ink, softInk, tick} }
func onTan(fill, tick string) step   { return step{fill, ink, ink, tick} }
func onRust(fill, tick string) step  { return step{fill, white, white, tick} }
func onDark(fill, tick string) step  { return step{fill, white, softPale, tick} }

// ramp holds, for each number of found classes, none found, unconfirmed and the
// found classes in rising order. Lightness falls from step to step; a test
// measures how far neighbors are apart to normal and color-blind eyes and on a
// gray printer, and how well the lines show.
var ramp = [atlas.MaxClasses + 1][]step{
	1: {
		onLight("#e8f4f3", "#aebcba"), onLight("#d2ccb3", "#a39c82"), onRust("#b5532f", "#d98d6e"),
	},
	2: {
		onLight("#e8f4f3", "#aebcba"), onLight("#d2ccb3", "#a39c82"), onTan("#d4924b", "#a66a27"), onDark("#502552", "#86608a"),
	},
	3: {
		onLight("#e8f4f3", "#aebcba"), onLight("#d2ccb3", "#a39c82"), onTan("#d09c52", "#a2722c"), onRust("#b04d2f", "#d98d6e"),
		onDark("#3d2450", "#776089"),
	},
	4: {
		onLight("#e8f4f3", "#aebcba"), onLight("#d4ceb4", "#a39c82"), onTan("#d6a95f", "#a87c33"), onTan("#bd7524", "#8c5210"),
		onDark("#8b2c35", "#bd6d71"), onDark("#33203f", "#6f5c7d"),
	},
	5: {
		onLight("#e8f4f3", "#aebcba"), onLight("#dcd6bc", "#aaa389"), onLight("#dcb872", "#ad8a44"), onTan("#c6822b", "#945c14"),
		onRust("#b0442d", "#d98d6e"), onDark("#7c2440", "#a8617a"), onDark("#2a1835", "#6a5778"),
	},
}

// amountRamp is the ramp of numbers, in hues the ramp of levels has not.
var amountRamp = []step{
	onLight("#f9fcf1", "#c3cbb2"), onLight("#c2e1ab", "#93b57b"), onTan("#82af83", "#5d8a5e"), {"#357f85", white, white, "#6fb0b4"},
	onDark("#1d4668", "#537797"),
}

// Fill returns the color of a step of the ramp of so many found classes: 0 none
// found, 1 unconfirmed, 1+i the i-th found class. For key chips beside a map; ok
// is false for a step the ramp has not.
func Fill(at, of int) (color string, ok bool) {
	if of < 1 || of > atlas.MaxClasses || at < 0 || at >= len(ramp[of]) {
		return "", false
	}
	return ramp[of][at].fill, true
}

// Themes lists every theme.
func Themes() []Theme { return []Theme{Color, Ink, Dark} }

// String returns the name used in addresses: color, ink, dark.
func (t Theme) String() string {
	return [...]string{"color", "ink", "dark"}[min(t, Dark)]
}

// ParseTheme reads such a name.
func ParseTheme(s string) (Theme, error) {
	for _, t := range Themes() {
		if t.String() == s {
			return t, nil
		}
	}
	return 0, fmt.Errorf("press.ParseTheme: no such theme %q", s)
}

// Color returns the color of a paint as #rrggbb, or "" where nothing is painted.
func (t Theme) Color(p atlas.Paint) string {
	levels, amounts, others := ramp, amountRamp, plain
	switch t {
	case Ink:
		return inkOnly(p)
	case Dark:
		levels, amounts, others = darkRamp, darkAmountRamp, darkPlain
	}
	steps := amounts
	switch p.Role {
	case atlas.Level, atlas.OnLevel, atlas.OnLevelSoft, atlas.Texture:
		steps = nil
		if p.Of >= 1 && p.Of <= atlas.MaxClasses {
			steps = levels[p.Of]
		}
	}
	if p.Of >= 1 && int(p.Step) < len(steps) {
		s := steps[p.Step]
		switch p.Role {
		case atlas.Level, atlas.Amount:
			return s.fill
		case atlas.OnLevel, atlas.OnAmount:
			return s.line
		case atlas.OnLevelSoft, atlas.OnAmountSoft:
			return s.soft
		case atlas.Texture, atlas.AmountTexture:
			return s.tick
		}
	}
	return others[p.Role]
}

// Width returns how wide a line of a paint is drawn: on a photocopy of a
// photocopy thin lines vanish, so none is thinner than a quarter of a millimeter
// there.
func (t Theme) Width(p atlas.Paint, w atlas.Unit) atlas.Unit {
	if t != Ink || w <= 0 {
		return w
	}
	switch p.Role {
	case atlas.OnLevel, atlas.Texture, atlas.AmountTexture, atlas.NeighborEdge:
		return w // fitted to the room there is
	}
	return max(w, 25)
}

// plain are the colors of roles that do not depend on a level, and of those that
// do where there is none.
var plain = map[atlas.Role]string{
	atlas.PaperRole:    white,
	atlas.Ink:          ink,
	atlas.Muted:        "#5d5348",
	atlas.Hairline:     "#8c8375",
	atlas.Blank:        white,
	atlas.OnLevel:      ink,
	atlas.OnLevelSoft:  "#6b6154",
	atlas.Texture:      "#b9b0a0",
	atlas.NeighborFill: "#f4f1ea",
	atlas.NeighborEdge: "#cfc8ba",
	atlas.NeighborText: "#6c6356",
	atlas.Boundary:     "#2b231c",
	atlas.BoundaryBand: "#ddd5c5",
	atlas.JoinedEdge:   ink,
	atlas.WaterEdge:    "#4f7d94",
	atlas.WaterFill:    "#d6eaf2",
	atlas.WaterText:    "#2f5f77",
	atlas.TownText:     ink,
	atlas.Halo:         white,
	atlas.Amount:       white,
	atlas.OnAmount:     ink,
	atlas.OnAmountSoft: softInk,
	atlas.EarlierFill:  "#e9e6df",
	atlas.Emphasis:     ink,
	atlas.BandFill:     ink,
	atlas.BandText:     white,
	atlas.Chalk:        "#fdfaf0",
	atlas.Flesh:        "#e3b9a2",
	atlas.Bark:         "#c9a97c",
}

// inkOnly is the theme for a photocopier: no fills, no tints that a second copy
// would lose.
func inkOnly(p atlas.Paint) string {
	switch p.Role {
	case atlas.NoPaint, atlas.NeighborFill, atlas.BoundaryBand:
		return ""
	case atlas.Texture, atlas.AmountTexture, atlas.NeighborEdge: // no loss when a copy loses them
		return "#8a8a8a"
	case atlas.WaterEdge:
		return "#555555"
	case atlas.PaperRole, atlas.Blank, atlas.Level, atlas.Halo, atlas.WaterFill, atlas.Amount, atlas.EarlierFill, atlas.BandText,
		atlas.Chalk, atlas.Flesh, atlas.Bark:
		return white
	default:
		return "#000000"
	}
}
