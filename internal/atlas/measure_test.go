package atlas

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/static/fonts"
)

// Advance widths summed by fontTools 4.38 from the hmtx tables of the fonts in
// static/fonts, in thousandths of the em.
func TestWidthsAgreeWithFontTools(t *testing.T) {
	for _, c := range []struct {
		face Face
		s    string
		want Unit
	}{
		{SansRegular, "T21N R8E", 4538},
		{SansRegular, "Plover County", 6249},
		{SansRegular, "≥ ½ 2,000", 4616},
		{CondensedSemiBold, "T21N R8E", 4152},
		{CondensedSemiBold, "≥ ½ 2,000", 4155},
		{SerifSemiBold, "Plover County", 6838},
	} {
		require.Equal(t, c.want, TextWidth(c.face, 1000, c.s), c.s)
	}
}

func TestEveryFaceHasTheSignsOfALabPage(t *testing.T) {
	for f, table := range faceAdvances() {
		for _, r := range "AZaz09éñłŐ½¼¾≥≤±×÷°²³–—•→←\u00a0" {
			require.Contains(t, table, r, "face %d, %q", f, r)
		}
		for r := '0'; r <= '9'; r++ {
			require.Equal(t, table['0'], table[r], "figures are tabular")
		}
	}
	require.Empty(t, readAdvances(fonts.SansRegular()[:100]), "a broken font has no widths")
}

func TestWrap(t *testing.T) {
	require.Equal(t, []string{"one", "two", "three"}, wrap(SansRegular, 100, " one two  three ", 10))
	require.Equal(t, []string{"one two three"}, wrap(SansRegular, 100, "one two three", 10000))
	require.Equal(t, []string{"5\u00a0miles", "more"}, wrap(SansRegular, 100, "5\u00a0miles more", 10), "a no-break space holds")
	require.Empty(t, wrap(SansRegular, 100, "", 10))
	for _, l := range wrap(SansRegular, 330, "sampled by volunteers, counted by the laboratory of the program", 3000) {
		require.LessOrEqual(t, width(SansRegular, 330, l), Unit(3000))
	}
}

func TestTextBounds(t *testing.T) {
	text := Text{X: 1000, Y: 2000, Size: 100, Face: CondensedRegular, S: "0"}
	w := width(CondensedRegular, 100, "0")
	require.Equal(t, Box{1000, 1930, 1000 + w, 2021}, text.Bounds())
	text.Anchor = End
	require.Equal(t, Unit(1000), text.Bounds().X1)
	text.Anchor, text.Turn = Start, -90
	require.Equal(t, Box{930, 2000 - w, 1021, 2000}, text.Bounds(), "turned text runs upward")
}

// The international mile of 1959 is 1609.344 m (NIST SP 811, appendix B.8).
func TestScaleBar(t *testing.T) {
	for _, c := range []struct {
		unit, den int64
		room      Unit
		n         int64
		length    Unit
	}{
		{1000000, 100000, 5200, 5, 5000}, // 1:100,000: a kilometer is a centimeter
		{1000000, 100000, 4999, 2, 2000},
		{mileMM, 100000, 5200, 2, 3219}, // two miles are 32.19 mm
		{mileMM, 1609344, 1000, 10, 1000},
		{mileMM, 63360, 2540, 1, 2540}, // 1:63,360, the inch-to-the-mile scale
	} {
		n, l := bar(c.unit, c.den, c.room)
		require.Equal(t, c.n, n)
		require.Equal(t, c.length, l)
	}
}

func TestProjectionIsExact(t *testing.T) {
	p := projection{west: 400000, north: 4600000, den: 100000, left: 500, top: 700}
	require.Equal(t, XY{500, 700}, p.point(Point{400000, 4600000}))
	require.Equal(t, XY{1500, 1700}, p.point(Point{401000, 4599000}), "a kilometer is a centimeter, north is up")
	require.Equal(t, int64(-2), roundDiv(-17, 10))
	require.Equal(t, int64(2), roundDiv(15, 10))
	require.Equal(t, int64(-1), roundDiv(-15, 10), "halves go up")
	require.Equal(t, int64(4), ceilDiv(31, 10))
}
