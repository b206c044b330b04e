package atlas

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"sixmile/static/fonts"
)

// Heights of capitals and figures, of small letters and below the baseline, in
// thousandths of the em. All our faces agree (OS/2 table: 698, 516–522; the
// descent is that of g, j, p, q and y).
const (
	capHeight = 700
	descent   = 215
)

// advances are the widths of a face's letters in thousandths of the em.
type advances map[rune]Unit

// faceAdvances reads the widths of every face once.
var faceAdvances = sync.OnceValue(func() [faceCount]advances {
	var out [faceCount]advances
	for f, ttf := range [faceCount][]byte{
		SansRegular:       fonts.SansRegular(),
		SansSemiBold:      fonts.SansSemiBold(),
		CondensedRegular:  fonts.CondensedRegular(),
		CondensedSemiBold: fonts.CondensedSemiBold(),
		SerifSemiBold:     fonts.SerifSemiBold(),
	} {
		out[f] = readAdvances(ttf)
	}
	return out
})

// readAdvances returns the widths of a font's letters. The fonts are part of the
// program, and a test reads them all: a broken one leaves the widths empty and
// every letter then counts as half an em.
func readAdvances(ttf []byte) advances {
	a := advances{}
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return a
	}
	var buf sfnt.Buffer
	em := f.UnitsPerEm()
	for r := rune(' '); r < 0x2800; r++ {
		g, err := f.GlyphIndex(&buf, r)
		if err != nil || g == 0 {
			continue
		}
		w, err := f.GlyphAdvance(&buf, g, fixed.I(int(em)), font.HintingNone)
		if err != nil {
			continue
		}
		a[r] = Unit(roundDiv(int64(w)*1000, int64(em)*64))
	}
	return a
}

// width returns how wide a text is at a size. Kerning is left out: it mostly
// draws letters together, so the result is a slight overestimate.
func width(face Face, size Unit, s string) Unit {
	table := faceAdvances()[face]
	sum := int64(0)
	for _, r := range s {
		w, ok := table[r]
		if !ok {
			w = 600
		}
		sum += int64(w)
	}
	return Unit((sum*int64(size) + 999) / 1000)
}

// TextWidth returns how wide a text is when set in a face at a size.
func TextWidth(face Face, size Unit, s string) Unit { return width(face, size, s) }

// Bounds returns the box a text covers when it is upright or turned by -90°.
func (t Text) Bounds() Box {
	w := width(t.Face, t.Size, t.S) + t.Spacing*Unit(len([]rune(t.S)))
	up, down := t.Size*capHeight/1000, t.Size*descent/1000
	left := Unit(0)
	switch t.Anchor {
	case Middle:
		left = -w / 2
	case End:
		left = -w
	}
	if t.Turn == -90 {
		return Box{t.X - up, t.Y - left - w, t.X + down, t.Y - left}
	}
	return Box{t.X + left, t.Y - up, t.X + left + w, t.Y + down}
}

// Wrap breaks a text into lines no wider than w when set in a face at a size; a
// single longer word stands alone.
func Wrap(face Face, size Unit, s string, w Unit) []string { return wrap(face, size, s, w) }

// wrap breaks a text into lines no wider than w; a single longer word stands
// alone.
func wrap(face Face, size Unit, s string, w Unit) []string {
	var lines []string
	line := ""
	for word := range fields(s) {
		switch {
		case line == "":
			line = word
		case width(face, size, line+" "+word) <= w:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// fields yields the words of s, split at plain spaces and line ends only: a
// no-break space holds words together.
func fields(s string) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		start := -1
		for i := 0; i <= len(s); i++ {
			if i < len(s) && s[i] != ' ' && s[i] != '\n' {
				if start < 0 {
					start = i
				}
				continue
			}
			if start >= 0 {
				if !yield(s[start:i]) {
					return
				}
				start = -1
			}
		}
	}
}
