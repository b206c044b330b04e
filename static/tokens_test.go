package static

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var (
	comment = regexp.MustCompile(`(?s)/\*.*?\*/`)
	setting = regexp.MustCompile(`(--[a-z0-9-]+): ([^;]+);`)
	used    = regexp.MustCompile(`var\((--[a-z0-9-]+)\)`)
	literal = regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl|oklch)a?\(`)
)

// tokensOf are the tokens of a stylesheet's first :root, and the rules behind it.
func tokensOf(t *testing.T, name string) (tokens map[string]string, rules string) {
	css := comment.ReplaceAllString(string(File(name)), "")
	at := rootRule.FindStringSubmatchIndex(css)
	require.NotNil(t, at, name)
	tokens = map[string]string{}
	for _, m := range setting.FindAllStringSubmatch(css[at[2]:at[3]], -1) {
		tokens[m[1]] = m[2]
	}
	return tokens, css[at[1]:]
}

// The meeting file opens without the site: it brings the tokens with it that it
// uses, as they are there, and no color of its own.
func TestTheMeetingHasTheTokensOfTheSite(t *testing.T) {
	site, _ := tokensOf(t, "site.css")
	meeting, rules := tokensOf(t, "meeting.css")
	for name, value := range meeting {
		require.Equal(t, site[name], value, name)
		require.Contains(t, rules, "var("+name+")", "nobody uses it")
	}
	require.Empty(t, literal.FindAllString(rules, -1))
	for _, m := range used.FindAllStringSubmatch(rules, -1) {
		require.Contains(t, meeting, m[1])
	}
}

// A token that is not there is no error to a browser, and nothing to see.
func TestTokensThatAreUsedAreThere(t *testing.T) {
	// What the office adds uses the site's.
	css := comment.ReplaceAllString(string(File("site.css"))+string(File("office.css")), "")
	there := map[string]bool{}
	for _, m := range setting.FindAllStringSubmatch(css, -1) {
		there[m[1]] = true
	}
	for _, m := range used.FindAllStringSubmatch(css, -1) {
		require.True(t, there[m[1]], "%s is used and nowhere set", m[1])
	}
	for name := range there {
		require.True(t, strings.Contains(css, "var("+name), "%s is set and nobody uses it", name)
	}
}
