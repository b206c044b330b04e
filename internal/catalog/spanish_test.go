package catalog

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// public are the areas (files) of what growers and the public read. Each stands
// in Spanish too, sentence by sentence. An area of the office is in English only.
var public = []string{
	"answer", "bags", "choice", "county", "date", "features", "frame", "guide", "help", "legend", "look", "map", "meeting", "paper", "place",
	"receipt", "region", "sample", "season", "send", "sheet", "state", "talk", "word", "worth", "yearbook",
}

// officeOnly are sentences of a public area that only staff come to read.
var officeOnly = regexp.MustCompile(`^role\.`)

// englishOnly are the areas of the office. A new area has to be put into one of
// the two tables, so that nobody forgets the other language.
var englishOnly = []string{
	"analysis", "annual", "bag", "boundary", "checklist", "count", "counter", "duty", "edge", "editions", "indicator", "lack", "lesson", "lookback", "lots", "menu", "methods", "money", "office", "ownsheet", "params", "past", "people", "plan",
	"quality", "queue", "recall", "release", "reported", "signin", "signoff", "slip", "soil", "trail", "tray", "upload",
}

func TestEveryAreaIsPublicOrTheOffices(t *testing.T) {
	for _, area := range areas(t, "en") {
		require.True(t, slices.Contains(public, area) != slices.Contains(englishOnly, area),
			"%s.json belongs in one of the tables: public (and then in es/ too), or englishOnly", area)
	}
	for _, area := range areas(t, "es") {
		require.Contains(t, areas(t, "en"), area)
	}
}

// Every public sentence is there in Spanish with the same arguments, in plural
// forms where English has them, and none is left in English.
func TestPublicSentencesAreInSpanish(t *testing.T) {
	for _, area := range public {
		t.Run(area, func(t *testing.T) {
			en, es := sentences(t, "en", area), sentences(t, "es", area)
			for key, want := range en {
				got, ok := es[key]
				if officeOnly.MatchString(key) {
					continue
				}
				if !ok {
					t.Errorf("%s is not in Spanish", key)
					continue
				}
				require.Equal(t, want.forms != nil, got.forms != nil, "%s: plural forms", key)
				require.Equal(t, want.arguments(), got.arguments(), "%s: arguments", key)
				for form, text := range got.texts() {
					require.NotEmpty(t, text, "%s %s", key, form)
				}
			}
			for key := range es {
				if _, ok := en[key]; !ok {
					t.Errorf("%s is in Spanish only", key)
				}
			}
		})
	}
}

type raw struct {
	text  string
	forms map[string]string
}

func (r raw) texts() map[string]string {
	if r.forms != nil {
		return r.forms
	}
	return map[string]string{"": r.text}
}

var argument = regexp.MustCompile(`\{[a-z_]+\}`)

// arguments are those of all forms, each once. {n} may be a word in one of them.
func (r raw) arguments() []string {
	var out []string
	for _, text := range r.texts() {
		out = append(out, argument.FindAllString(text, -1)...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func sentences(t *testing.T, lang, area string) map[string]raw {
	b, err := os.ReadFile(filepath.Join(lang, area+".json"))
	require.NoError(t, err)
	var in map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(b, &in))
	out := map[string]raw{}
	for key, v := range in {
		var r raw
		if json.Unmarshal(v, &r.text) != nil {
			require.NoError(t, json.Unmarshal(v, &r.forms), key)
		}
		out[key] = r
	}
	return out
}

func areas(t *testing.T, lang string) []string {
	names, err := filepath.Glob(filepath.Join(lang, "*.json"))
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for i, n := range names {
		names[i] = n[len(lang)+1 : len(n)-len(".json")]
	}
	return names
}

// counted is the word after a number.
var counted = regexp.MustCompile(`\{n\} (\p{L}+)`)

// strange are what an editor of the Spanish sentences would strike out: a second
// name for the nematode, readers who are not called usted, an accent that is no
// longer written, and marks of another language.
var strange = regexp.MustCompile(`(?i)nematodo quiste|soja|\b(tu|tus|puedes|tienes|quieres|debes)\b|\bsólo\b|"|\.\.\.|\d %`)

// One thing is called one name, one bag is no "1 bolsas", and questions and
// exclamations open as they close.
func TestSpanishIsWrittenWithCare(t *testing.T) {
	for _, area := range areas(t, "es") {
		for key, s := range sentences(t, "es", area) {
			for form, text := range s.texts() {
				require.NotRegexp(t, strange, text, "%s %s", key, form)
				require.Equal(t, strings.Count(text, "?"), strings.Count(text, "¿"), "%s %s", key, form)
				require.Equal(t, strings.Count(text, "!"), strings.Count(text, "¡"), "%s %s", key, form)
				if form != "one" {
					continue
				}
				for _, word := range counted.FindAllStringSubmatch(text, -1) {
					require.True(t, word[1] == "más" || !strings.HasSuffix(word[1], "s"), "%s: one of many: %q", key, text)
				}
			}
		}
	}
}
