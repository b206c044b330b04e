// Package catalog holds every sentence people read, by language.
//
// A sentence is found by its key ("send.place.label"). Sentences live in one
// JSON file an area under a folder a language (en/send.json), so that a
// translator sees whole pages together. A value is either a string, or an
// object of plural forms ("one", "other", …: the CLDR categories). {name}
// stands for an argument.
package catalog

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"sort"
	"strings"
	"time"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

//go:embed en/*.json es/*.json
var files embed.FS

// Lang is one language's sentences and its way of writing numbers and dates.
// It is immutable and safe for concurrent use.
type Lang struct {
	tag       language.Tag
	sentences map[string]sentence
	// base has the sentences that this language lacks: the office's, which are in
	// English only. nil for English.
	base *Lang
	// prefix is the beginning of addresses in this language.
	prefix string
}

// sentence is a fixed text, or its plural forms.
type sentence struct {
	text  string
	forms map[plural.Form]string
}

var (
	english = mustLoad("en", language.AmericanEnglish, nil)
	spanish = mustLoad("es", language.MustParse("es-US"), english)
)

// English is the American English catalog.
func English() *Lang { return english }

// Spanish is the catalog in Spanish as growers and farm workers in the United
// States speak it. What it lacks, which is the office's own, stays English.
func Spanish() *Lang { return spanish }

// Tag is the language for an HTML lang attribute: "en-US".
func (l *Lang) Tag() string { return l.tag.String() }

// Say is the sentence of key with its arguments, given as name, value pairs:
//
//	l.Say("map.sheet.of", "county", "Plover", "year", 2026)
//
// An int argument is written with the language's grouping; to keep digits as
// they are (years, codes) pass a string. A missing sentence shows as its key in
// brackets; the package's test finds it before a reader does.
func (l *Lang) Say(key string, args ...any) string {
	s, l, ok := l.find(key)
	if !ok {
		return "[" + key + "]"
	}
	if s.forms != nil {
		return l.fill(s.forms[plural.Other], args)
	}
	return l.fill(s.text, args)
}

// SayOf is Say for a key with a last part known only at run time:
// SayOf("level", "low") is Say("level.low"). The test checks that sentences
// with that beginning exist.
func (l *Lang) SayOf(area, name string, args ...any) string {
	return l.Say(area+"."+name, args...)
}

// Has tells whether there is a sentence for key.
func (l *Lang) Has(key string) bool {
	_, _, ok := l.find(key)
	return ok
}

// find looks a sentence up, and says whose it is: a borrowed sentence is filled
// by the rules of its own language.
func (l *Lang) find(key string) (sentence, *Lang, bool) {
	for from := l; from != nil; from = from.base {
		if s, ok := from.sentences[key]; ok {
			return s, from, true
		}
	}
	return sentence{}, l, false
}

// Count is the sentence of key in the plural form that n asks for; {n} is n.
func (l *Lang) Count(key string, n int, args ...any) string {
	s, l, ok := l.find(key)
	if !ok {
		return "[" + key + "]"
	}
	form := plural.Cardinal.MatchPlural(l.tag, n, 0, 0, 0, 0)
	text, ok := s.forms[form]
	if !ok {
		if text, ok = s.forms[plural.Other]; !ok {
			text = s.text
		}
	}
	return l.fill(text, append([]any{"n", n}, args...))
}

// Number writes n with the language's grouping: 12,000.
func (l *Lang) Number(n int) string {
	return message.NewPrinter(l.tag).Sprint(number.Decimal(n))
}

// Date writes a calendar date: November 14, 2026.
func (l *Lang) Date(t time.Time) string {
	return l.Say("date.long", "month", l.Say("date.month."+strings.ToLower(t.Month().String())),
		"day", fmt.Sprint(t.Day()), "year", fmt.Sprint(t.Year()))
}

// MonthYear writes a month: January 2026.
func (l *Lang) MonthYear(t time.Time) string {
	return l.Say("date.monthyear", "month", l.Say("date.month."+strings.ToLower(t.Month().String())),
		"year", fmt.Sprint(t.Year()))
}

// fill puts the arguments in the places of their names.
func (l *Lang) fill(text string, args []any) string {
	if len(args) == 0 || !strings.Contains(text, "{") {
		return text
	}
	var b strings.Builder
	b.Grow(len(text) + 16*len(args))
	for {
		open := strings.IndexByte(text, '{')
		shut := open + strings.IndexByte(text[open+1:], '}') + 1
		if open < 0 || shut <= open {
			b.WriteString(text)
			return b.String()
		}
		b.WriteString(text[:open])
		if v, ok := l.value(args, text[open+1:shut]); ok {
			b.WriteString(v)
		} else {
			b.WriteString(text[open : shut+1])
		}
		text = text[shut+1:]
	}
}

// value is what fills the place of a name, as it is written in the language.
func (l *Lang) value(args []any, name string) (string, bool) {
	for i := 0; i+1 < len(args); i += 2 {
		if args[i] != name {
			continue
		}
		switch a := args[i+1].(type) {
		case int:
			return l.Number(a), true
		case string:
			return a, true
		default:
			return fmt.Sprint(a), true
		}
	}
	return "", false
}

// Keys lists every key of the language's own, sorted.
func (l *Lang) Keys() []string {
	keys := make([]string, 0, len(l.sentences))
	for k := range l.sentences {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

func mustLoad(dir string, tag language.Tag, base *Lang) *Lang {
	l, err := load(files, dir, tag)
	if err != nil {
		// The files are embedded: a broken one is a broken build.
		panic(err)
	}
	l.base = base
	return l
}

func load(fsys fs.FS, dir string, tag language.Tag) (*Lang, error) {
	l := &Lang{tag: tag, sentences: map[string]sentence{}}
	names, err := fs.Glob(fsys, path.Join(dir, "*.json"))
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		b, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, err
		}
		var raw map[string]json.RawMessage
		if err := json.Unmarshal(b, &raw); err != nil {
			return nil, fmt.Errorf("catalog %s: %w", name, err)
		}
		for key, v := range raw {
			if _, twice := l.sentences[key]; twice {
				return nil, fmt.Errorf("catalog %s: %q stands twice", name, key)
			}
			s, err := parse(v)
			if err != nil {
				return nil, fmt.Errorf("catalog %s: %q: %w", name, key, err)
			}
			l.sentences[key] = s
		}
	}
	return l, nil
}

var formNames = map[string]plural.Form{
	"zero": plural.Zero, "one": plural.One, "two": plural.Two,
	"few": plural.Few, "many": plural.Many, "other": plural.Other,
}

func parse(v json.RawMessage) (sentence, error) {
	var text string
	if json.Unmarshal(v, &text) == nil {
		return sentence{text: text}, nil
	}
	var forms map[string]string
	if err := json.Unmarshal(v, &forms); err != nil {
		return sentence{}, err
	}
	s := sentence{forms: map[plural.Form]string{}}
	for name, text := range forms {
		form, ok := formNames[name]
		if !ok {
			return sentence{}, fmt.Errorf("no plural form %q", name)
		}
		s.forms[form] = text
	}
	if _, ok := s.forms[plural.Other]; !ok {
		return sentence{}, fmt.Errorf("plural forms need \"other\"")
	}
	return s, nil
}
