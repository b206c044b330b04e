package atlas

import "strconv"

// milesInMeters is the international mile of 1959: 1609.344 m, in millimeters so
// that it stays whole.
const mileMM = 1609344

// scaleSteps are the round lengths a scale bar may show.
var scaleSteps = [...]int64{1, 2, 5, 10, 20, 50, 100, 200, 500}

// bar returns the longest round length, in a unit of so many millimeters on the
// ground, that fits w on paper at 1:den, and its length there.
func bar(unitMM, den int64, w Unit) (int64, Unit) {
	length := func(n int64) Unit { return Unit(roundDiv(n*unitMM*100, den)) }
	best := scaleSteps[0]
	for _, n := range scaleSteps {
		if length(n) <= w {
			best = n
		}
	}
	return best, length(best)
}

// scale draws the scale bar, miles above and kilometers below, with the north
// arrow at its right, and returns them with their height.
func (b *builder) scale(x, y, w Unit) ([]Item, Unit) {
	small := b.text * 80 / 100
	room := min(w*52/100, 5200)
	ink := Paint{Role: Ink}
	var items []Item
	base := y + small*135/100
	label := func(at Unit, y Unit, s string, anchor Anchor) {
		items = append(items, Text{X: at, Y: y, Size: small, Face: CondensedRegular, Anchor: anchor, Paint: ink, S: s})
	}
	const thick = 70
	miles, ml := bar(mileMM, b.proj.den, room)
	km, kl := bar(1000000, b.proj.den, room)
	half := ml / 2
	items = append(items,
		Path{Rings: []Ring{rect(x, base, half, thick)}, Fill: ink, Stroke: ink, Width: 12},
		Path{Rings: []Ring{rect(x+half, base, ml-half, thick)}, Stroke: ink, Width: 12},
		Path{Rings: []Ring{rect(x, base+thick, kl/2, thick)}, Stroke: ink, Width: 12},
		Path{Rings: []Ring{rect(x+kl/2, base+thick, kl-kl/2, thick)}, Fill: ink, Stroke: ink, Width: 12})
	// Numbers stand on their ticks; the unit follows the last.
	at := func(end Unit, n int64) Unit {
		return x + end - width(CondensedRegular, small, strconv.FormatInt(n, 10))/2
	}
	up, down := base-45, base+2*thick+45+small*capHeight/1000
	label(x, up, "0", Start)
	label(at(ml, miles), up, strconv.FormatInt(miles, 10)+"\u00a0"+b.m.Words.Miles, Start)
	label(at(kl, km), down, strconv.FormatInt(km, 10)+"\u00a0"+b.m.Words.Kilometers, Start)
	height := small*135/100 + 2*thick + 45 + small*capHeight/1000
	items = append(items, northArrow(x+w-150, y, height, small, b.m.Words.North)...)
	return items, height + b.text*60/100
}

func rect(x, y, w, h Unit) Ring {
	return Ring{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
}

// northArrow is a plow point: one half dark, one half open, its letter below the
// tip.
func northArrow(x, y, h, size Unit, letter string) []Item {
	ink := Paint{Role: Ink}
	top, bottom := y, y+h-size*capHeight/1000-40
	wing, notch := h*22/100, (bottom-top)*22/100
	return []Item{
		Path{Rings: []Ring{{{x, top}, {x - wing, bottom}, {x, bottom - notch}}}, Fill: ink, Stroke: ink, Width: 12, Round: true},
		Path{Rings: []Ring{{{x, top}, {x + wing, bottom}, {x, bottom - notch}}}, Stroke: ink, Width: 12, Round: true},
		Text{X: x, Y: y + h, Size: size, Face: CondensedSemiBold, Anchor: Middle, Paint: ink, S: letter},
	}
}
