package static

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// luminance is WCAG 2.2's relative luminance of a color like #2b2723 or #fff.
func luminance(t *testing.T, hex string) float64 {
	hex = strings.TrimPrefix(hex, "#")
	if len(hex) == 3 {
		hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
	}
	n, err := strconv.ParseUint(hex, 16, 32)
	require.NoError(t, err, hex)
	sum := 0.0
	for i, weight := range []float64{0.0722, 0.7152, 0.2126} {
		c := float64(n>>(8*i)&255) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

// contrast is WCAG 2.2's contrast ratio, 1 to 21.
func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

var (
	rootRule = regexp.MustCompile(`:root \{([^}]*)\}`)
	token    = regexp.MustCompile(`(--[a-z-]+): (#[0-9a-f]{3,6})`)
)

// Tokens stand out from the grounds they are used on, by day and by night: text
// by 4.5 (WCAG 2.2, 1.4.3), borders of controls and the focus by 3 (1.4.11).
func TestContrastOfTokens(t *testing.T) {
	require.InDelta(t, 21, contrast(t, "#000", "#ffffff"), 1e-9)
	require.InDelta(t, 4.54, contrast(t, "#767676", "#fff"), 0.005) // the well-known grayest gray on white, from memory
	roots := rootRule.FindAllStringSubmatch(string(File("site.css")), -1)
	require.GreaterOrEqual(t, len(roots), 2)
	colors := map[string]string{}
	for theme, root := range roots[:2] { // the second, at night, changes the first
		for _, m := range token.FindAllStringSubmatch(root[1], -1) {
			colors[m[1]] = m[2]
		}
		for _, pair := range []struct {
			least  float64
			fore   string
			ground string
		}{
			{4.5, "--ink --muted --accent --good --bad", "--paper --sheet --well"},
			{4.5, "--ink --accent", "--accent-soft"},
			{4.5, "--ink --bad", "--bad-soft"},
			{4.5, "--accent-ink", "--accent"},
			{4.5, "--bar-ink", "--bar"},
			{4.5, "--page-ink", "--page"},
			{3, "--rule-strong", "--paper --sheet --well"},
			{3, "--focus", "--paper --sheet --well --accent-soft"},
			{3, "--bar-focus", "--bar"},
			{3, "--page-focus", "--page"},
		} {
			for fore := range strings.FieldsSeq(pair.fore) {
				for ground := range strings.FieldsSeq(pair.ground) {
					require.NotEmpty(t, colors[fore], fore)
					require.NotEmpty(t, colors[ground], ground)
					require.GreaterOrEqual(t, contrast(t, colors[fore], colors[ground]), pair.least, "%s on %s, theme %d", fore, ground, theme)
				}
			}
		}
	}
}
