package press

import "sixmile/internal/atlas"

const (
	night    = "#14110e"
	moon     = "#f7f1e6"
	softMoon = "#d9cfc0"
)

// In a dark room the ramp runs from the ground toward light: a higher level is
// always the one that stands out.
func byNight(fill, tick string) step { return step{fill, moon, softMoon, tick} }
func byDusk(fill, tick string) step  { return step{fill, white, white, tick} }
func byDawn(fill, tick string) step  { return step{fill, "#000000", "#000000", tick} }
func byDay(fill, tick string) step   { return step{fill, ink, softInk, tick} }

var darkRamp = [atlas.MaxClasses + 1][]step{
	1: {byNight("#1f4a55", "#3d6b77"), byDusk("#6f6a58", "#948e78"), byDay("#ffc766", "#c9933a")},
	2: {byNight("#1f4a55", "#3d6b77"), byDusk("#6f6a58", "#948e78"), byDawn("#d98a3a", "#a5631d"), byDay("#ffe9b0", "#cbb477")},
	3: {
		byNight("#1c434e", "#3a6370"), byDusk("#676251", "#8c8670"), byDawn("#b9702a", "#864c12"), byDawn("#f0ab4c", "#b67b24"),
		byDay("#fff0c4", "#ccbb88"),
	},
	4: {
		byNight("#173842", "#355862"), byNight("#504b3e", "#777160"), byDusk("#98602f", "#c08a59"), byDawn("#cd8030", "#985a14"),
		byDawn("#f4b65b", "#bb842f"), byDay("#fff2cc", "#ccbd90"),
	},
	5: {
		byNight("#15343e", "#33545e"), byNight("#4c483c", "#726d5d"), byDusk("#8d532d", "#b67c55"), byDawn("#c16b1d", "#8d480a"),
		byDawn("#e9980b", "#ac6c00"), byDay("#fccf86", "#c49a54"), byDay("#fff6dc", "#cdc2a0"),
	},
}

var darkAmountRamp = []step{
	byNight("#1d3c58", "#3f5f7d"), byDusk("#2f6f7c", "#5a97a4"), byDawn("#5fa58f", "#3a7b67"), byDay("#a3ce8f", "#749d62"),
	byDay("#f0f7d8", "#bcc5a0"),
}

var darkPlain = map[atlas.Role]string{
	atlas.PaperRole:    night,
	atlas.Ink:          moon,
	atlas.Muted:        "#c4b9a9",
	atlas.Hairline:     "#8d8478",
	atlas.Blank:        night,
	atlas.OnLevel:      moon,
	atlas.OnLevelSoft:  "#b3a898",
	atlas.Texture:      "#5c554b",
	atlas.NeighborFill: "#26221d",
	atlas.NeighborEdge: "#4a443c",
	atlas.NeighborText: "#b3a898",
	atlas.Boundary:     moon,
	atlas.BoundaryBand: "#3d372f",
	atlas.JoinedEdge:   moon,
	atlas.WaterEdge:    "#6fa8c4",
	atlas.WaterFill:    "#173b4d",
	atlas.WaterText:    "#a4d2e8",
	atlas.TownText:     moon,
	atlas.Halo:         night,
	atlas.Amount:       night,
	atlas.OnAmount:     moon,
	atlas.OnAmountSoft: "#b3a898",
	atlas.EarlierFill:  "#332e28",
	atlas.Emphasis:     white,
	atlas.BandFill:     moon,
	atlas.BandText:     night,
	atlas.Chalk:        "#fdfaf0",
	atlas.Flesh:        "#b98a72",
	atlas.Bark:         "#7d6240",
}
