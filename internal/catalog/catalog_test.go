package catalog

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/language"
)

func TestSayFillsArgumentsAndGroupsNumbers(t *testing.T) {
	l, err := load(fstest.MapFS{"xx/a.json": &fstest.MapFile{Data: []byte(
		`{"a":"{n} eggs in {place}","b":{"one":"{n} bag","other":"{n} bags"}}`)}}, "xx", language.AmericanEnglish)
	require.NoError(t, err)
	require.Equal(t, "12,000 eggs in T21N R8E", l.Say("a", "n", 12000, "place", "T21N R8E"))
	require.Equal(t, "1 bag", l.Count("b", 1))
	require.Equal(t, "0 bags", l.Count("b", 0))
	require.Equal(t, "2,500 bags", l.Count("b", 2500))
	require.Equal(t, "[nope]", l.Say("nope"))
}

func TestLoadRefusesBrokenFiles(t *testing.T) {
	for name, data := range map[string]string{
		"not json":        `{`,
		"unknown form":    `{"a":{"dual":"x","other":"y"}}`,
		"no other form":   `{"a":{"one":"x"}}`,
		"value not words": `{"a":3}`,
	} {
		t.Run(name, func(t *testing.T) {
			_, err := load(fstest.MapFS{"xx/a.json": &fstest.MapFile{Data: []byte(data)}}, "xx", language.English)
			require.Error(t, err)
		})
	}
}

func TestDates(t *testing.T) {
	day := time.Date(2026, 11, 4, 0, 0, 0, 0, time.UTC)
	require.Equal(t, "November 4, 2026", English().Date(day))
	require.Equal(t, "November 2026", English().MonthYear(day))
}

// said finds the keys that the source asks for.
var said = regexp.MustCompile(`\.(Say|Count|SayOf)\(\s*"([^"]+)"`)

// literal is a string of the source that may be a key, or the beginning of one.
var literal = regexp.MustCompile(`"([a-z0-9_.-]+)"`)

// sources hands on every file of the project that may ask for sentences.
func sources(t *testing.T, take func(path, text string)) {
	err := filepath.WalkDir("../..", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && len(d.Name()) > 2 || d.Name() == "node_modules") {
			return filepath.SkipDir
		}
		generated := strings.HasSuffix(p, "_templ.go")
		source := strings.HasSuffix(p, ".templ") || strings.HasSuffix(p, ".go") && !strings.HasSuffix(p, "_test.go")
		if d.IsDir() || generated || !source || strings.Contains(p, "internal/catalog/") {
			return nil
		}
		b, err := os.ReadFile(p)
		if err == nil {
			take(p, string(b))
		}
		return err
	})
	require.NoError(t, err)
}

// TestEverySentenceAskedForIsThere reads the source of the whole project and
// looks up each key it names: a page can never show a bare key.
func TestEverySentenceAskedForIsThere(t *testing.T) {
	asked := 0
	sources(t, func(p, text string) {
		for _, m := range said.FindAllStringSubmatch(text, -1) {
			asked++
			call, key := m[1], m[2]
			if call == "SayOf" {
				if !hasPrefix(English(), key+".") {
					t.Errorf("%s asks for sentences under %q: there are none", p, key)
				}
			} else if !English().Has(key) && !strings.HasSuffix(key, ".") {
				t.Errorf("%s asks for %q: no such sentence", p, key)
			}
		}
	})
	require.Positive(t, asked, "the search pattern no longer finds any call")
}

// TestEverySentenceIsAskedFor: the source names each key, or what it begins with
// where its end is known at run time only.
func TestEverySentenceIsAskedFor(t *testing.T) {
	named := map[string]bool{}
	sources(t, func(_, text string) {
		for _, m := range literal.FindAllStringSubmatch(text, -1) {
			// One word alone may be anything; an area is asked for by SayOf, or ends in a dot.
			if strings.Contains(m[1], ".") {
				named[strings.TrimSuffix(m[1], ".")] = true
			}
		}
		for _, m := range said.FindAllStringSubmatch(text, -1) {
			named[strings.TrimSuffix(m[2], ".")] = true
		}
	})
	for _, key := range English().Keys() {
		asked := strings.HasPrefix(key, "date.") // by this package itself
		for k := key; k != "" && !asked; k = k[:max(0, strings.LastIndex(k, "."))] {
			asked = named[k]
		}
		if !asked {
			t.Errorf("nobody asks for %q", key)
		}
	}
}

func hasPrefix(l *Lang, prefix string) bool {
	for _, k := range l.Keys() {
		if strings.HasPrefix(k, prefix) {
			return true
		}
	}
	return false
}

func TestFill(t *testing.T) {
	l := English()
	for text, want := range map[string]string{
		"none":               "none",
		"{a} and {b}":        "x and 1,200",
		"{a}{a}{c}":          "xx{c}",
		"{b":                 "{b",
		"} {a}":              "} x",
		"{ {a} {}":           "{ {a} {}",
		"what {d} says: {e}": "what {a} says: 2.5",
	} {
		require.Equal(t, want, l.fill(text, []any{"a", "x", "b", 1200, "d", "{a}", "e", 2.5, "a", "second"}))
	}
}
