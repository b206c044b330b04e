package press_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/press"
)

// Simulations of color-blind eyes: Machado, Oliveira & Fernandes, "A
// Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE
// TVCG 15(6), 2009, table for severity 1.0, applied to linear RGB. The values were
// read from several public programs that agree. Gray: relative luminance of
// IEC 61966-2-1 (sRGB).
var eyes = map[string][9]float64{
	"normal": {1, 0, 0, 0, 1, 0, 0, 0, 1},
	"protanope": {
		0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998,
	},
	"deuteranope": {
		0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881,
	},
	"tritanope": {
		1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900,
	},
	"gray": {0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722},
}

func seen(c colorful.Color, m [9]float64) colorful.Color {
	r, g, b := c.LinearRgb()
	return colorful.LinearRgb(m[0]*r+m[1]*g+m[2]*b, m[3]*r+m[4]*g+m[5]*b, m[6]*r+m[7]*g+m[8]*b).Clamped()
}

func hex(t *testing.T, s string) colorful.Color {
	t.Helper()
	c, err := colorful.Hex(s)
	require.NoError(t, err)
	return c
}

func TestSimulationsKeepGray(t *testing.T) {
	for name, m := range eyes {
		for row := range 3 {
			require.InDelta(t, 1, m[3*row]+m[3*row+1]+m[3*row+2], 2e-5, "%s row %d", name, row)
		}
	}
}

// ramps are the fills of every ramp of a theme, in rising order.
func ramps(t *testing.T, theme press.Theme) map[string][]colorful.Color {
	t.Helper()
	out := map[string][]colorful.Color{}
	for at := range atlas.AmountSteps {
		c := theme.Color(atlas.Paint{Role: atlas.Amount, Step: uint8(at), Of: atlas.AmountSteps})
		out["numbers"] = append(out["numbers"], hex(t, c))
	}
	for of := 1; of <= atlas.MaxClasses; of++ {
		name := fmt.Sprintf("%d classes", of)
		for at := range of + 2 {
			c := theme.Color(atlas.Paint{Role: atlas.Level, Step: uint8(at), Of: uint8(of)})
			out[name] = append(out[name], hex(t, c))
		}
	}
	return out
}

func TestRampSteps(t *testing.T) {
	// Large: neighbors on the ramp are told apart at a glance in every kind of
	// color vision. A gray printer keeps only lightness; a difference of 2.3 is
	// the usual just noticeable one, and furrows or the number carry it there.
	least := map[string]float64{"normal": 12, "protanope": 12, "deuteranope": 12, "tritanope": 12, "gray": 6}
	for theme, away := range map[press.Theme]float64{press.Color: -1, press.Dark: 1} {
		for ramp, fills := range ramps(t, theme) {
			for name, m := range eyes {
				t.Run(fmt.Sprint(theme, " ", ramp, " ", name), func(t *testing.T) {
					worst, where := math.Inf(1), 0
					for at := 1; at < len(fills); at++ {
						before, after := seen(fills[at-1], m), seen(fills[at], m)
						l0, _, _ := before.Lab()
						l1, _, _ := after.Lab()
						require.Greater(t, away*(l1-l0), 0.06, "lightness must go one way at step %d", at)
						if d := 100 * before.DistanceCIEDE2000(after); d < worst {
							worst, where = d, at
						}
					}
					t.Logf("smallest CIEDE2000 between neighbors: %.1f at step %d", worst, where)
					require.GreaterOrEqual(t, worst, least[name])
				})
			}
		}
	}
}

// The contrast ratio of WCAG 2.2 (success criteria 1.4.3, text: 4.5, and 1.4.11,
// graphics: 3); furrows are held to that of text.
func contrast(a, b colorful.Color) float64 {
	_, ya, _ := a.Xyz()
	_, yb, _ := b.Xyz()
	return (max(ya, yb) + 0.05) / (min(ya, yb) + 0.05)
}

func TestContrastFormula(t *testing.T) {
	// WCAG 2.2 defines black on white as 21; #767676 on white is the well-known
	// 4.54 (from memory).
	require.InDelta(t, 21, contrast(hex(t, "#000000"), hex(t, "#ffffff")), 0.01)
	require.InDelta(t, 4.54, contrast(hex(t, "#767676"), hex(t, "#ffffff")), 0.01)
}

func TestLinesShowOnEveryFill(t *testing.T) {
	for _, theme := range []press.Theme{press.Color, press.Dark} {
		check := func(ground, line atlas.Role, step, of uint8) {
			c := contrast(hex(t, theme.Color(atlas.Paint{Role: line, Step: step, Of: of})), hex(t, theme.Color(atlas.Paint{Role: ground, Step: step, Of: of})))
			require.GreaterOrEqual(t, c, 4.5, "%s: role %d on role %d, step %d of %d", theme, line, ground, step, of)
		}
		for of := uint8(1); of <= atlas.MaxClasses; of++ {
			for at := uint8(0); at <= of+1; at++ {
				check(atlas.Level, atlas.OnLevel, at, of)
				check(atlas.Level, atlas.OnLevelSoft, at, of)
			}
		}
		for at := range uint8(atlas.AmountSteps) {
			check(atlas.Amount, atlas.OnAmount, at, atlas.AmountSteps)
			check(atlas.Amount, atlas.OnAmountSoft, at, atlas.AmountSteps)
		}
		for _, r := range []atlas.Role{atlas.Ink, atlas.Muted, atlas.TownText, atlas.WaterText, atlas.OnLevel, atlas.OnLevelSoft, atlas.OnAmountSoft} {
			check(atlas.PaperRole, r, 0, 0)
			check(atlas.Blank, r, 0, 0)
		}
		check(atlas.NeighborFill, atlas.NeighborText, 0, 0)
		check(atlas.EarlierFill, atlas.OnLevelSoft, 0, 0)
		check(atlas.BandFill, atlas.BandText, 0, 0)
	}
}

// A place without figures must not look like one of the ramp, nor like one whose
// figures are not new.
func TestBlankIsNoStep(t *testing.T) {
	for _, theme := range []press.Theme{press.Color, press.Dark} {
		blank, earlier := hex(t, theme.Color(atlas.Paint{Role: atlas.Blank})), hex(t, theme.Color(atlas.Paint{Role: atlas.EarlierFill}))
		require.GreaterOrEqual(t, 100*blank.DistanceCIEDE2000(earlier), 4.0)
		for name, fills := range ramps(t, theme) {
			least := 4.0
			if name == "numbers" {
				least = 1 // its number tells: a place without figures has none
			}
			require.GreaterOrEqual(t, 100*blank.DistanceCIEDE2000(fills[0]), least, "%s %s", theme, name)
		}
	}
}

func TestInkThemeHasNoTints(t *testing.T) {
	for of := uint8(1); of <= atlas.MaxClasses; of++ {
		for at := uint8(0); at <= of+1; at++ {
			require.Equal(t, "#ffffff", press.Ink.Color(atlas.Paint{Role: atlas.Level, Step: at, Of: of}))
			require.Equal(t, "#ffffff", press.Ink.Color(atlas.Paint{Role: atlas.Amount, Step: at, Of: of}))
			require.Equal(t, "#000000", press.Ink.Color(atlas.Paint{Role: atlas.OnLevel, Step: at, Of: of}))
			require.Equal(t, "#000000", press.Ink.Color(atlas.Paint{Role: atlas.OnAmount, Step: at, Of: of}))
		}
	}
}

func TestFillRefusesStepsOutsideTheRamp(t *testing.T) {
	for _, c := range [][2]int{{-1, 3}, {5, 3}, {0, 0}, {0, 6}, {7, 5}} {
		_, ok := press.Fill(c[0], c[1])
		require.False(t, ok, "%v", c)
	}
}

// The difference formula these tests lean on, against the pairs of table 1 of
// Sharma, Wu & Dalal, "The CIEDE2000 Color-Difference Formula: Implementation
// Notes, Supplementary Test Data, and Mathematical Observations", Color Research
// and Application 30(1), 2005. The table was read from a public program's copy.
func TestCIEDE2000AgainstPublishedPairs(t *testing.T) {
	for i, p := range sharmaPairs {
		a, b := colorful.Lab(p[0]/100, p[1]/100, p[2]/100), colorful.Lab(p[3]/100, p[4]/100, p[5]/100)
		for _, got := range []float64{100 * a.DistanceCIEDE2000(b), 100 * b.DistanceCIEDE2000(a)} {
			want := p[6]
			if i+1 == 10 && got > 7.2 {
				// Its hues are exactly opposite, where the formula jumps: the
				// library goes by way of RGB, and a last digit decides between
				// this value and that of the next pair.
				want = sharmaPairs[10][6]
			}
			require.InDelta(t, want, got, 0.0001, "pair %d", i+1)
		}
	}
}

var sharmaPairs = [34][7]float64{
	{50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425},
	{50, 3.1571, -77.2803, 50, 0, -82.7485, 2.8615},
	{50, 2.8361, -74.0200, 50, 0, -82.7485, 3.4412},
	{50, -1.3802, -84.2814, 50, 0, -82.7485, 1.0000},
	{50, -1.1848, -84.8006, 50, 0, -82.7485, 1.0000},
	{50, -0.9009, -85.5211, 50, 0, -82.7485, 1.0000},
	{50, 0, 0, 50, -1, 2, 2.3669},
	{50, -1, 2, 50, 0, 0, 2.3669},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0009, 7.1792},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0010, 7.1792},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0011, 7.2195},
	{50, 2.4900, -0.0010, 50, -2.4900, 0.0012, 7.2195},
	{50, -0.0010, 2.4900, 50, 0.0009, -2.4900, 4.8045},
	{50, -0.0010, 2.4900, 50, 0.0010, -2.4900, 4.8045},
	{50, -0.0010, 2.4900, 50, 0.0011, -2.4900, 4.7461},
	{50, 2.5, 0, 50, 0, -2.5, 4.3065},
	{50, 2.5, 0, 73, 25, -18, 27.1492},
	{50, 2.5, 0, 61, -5, 29, 22.8977},
	{50, 2.5, 0, 56, -27, -3, 31.9030},
	{50, 2.5, 0, 58, 24, 15, 19.4535},
	{50, 2.5, 0, 50, 3.1736, 0.5854, 1.0000},
	{50, 2.5, 0, 50, 3.2972, 0, 1.0000},
	{50, 2.5, 0, 50, 1.8634, 0.5757, 1.0000},
	{50, 2.5, 0, 50, 3.2592, 0.3350, 1.0000},
	{60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644},
	{63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630},
	{61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731},
	{35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645},
	{22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373},
	{36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146},
	{90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441},
	{90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381},
	{6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377},
	{2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082},
}
