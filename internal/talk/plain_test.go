package talk

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var (
	sentenceEnd = regexp.MustCompile(`[.!?:;](\s|”|$)`)
	wordOf      = regexp.MustCompile(`[\p{L}\d][\p{L}\d’'³,]*`)
	vowels      = regexp.MustCompile(`[aeiouy]+`)
	// silent ends: "make", "came", "voted" is two but "sampled" too; "-le" sounds.
	silent = regexp.MustCompile(`([^aeiouytdl]ed|[^l]e|[^aeiouyszxgc]es)$`)
)

// syllables counts the groups of vowels of a word less a silent end, at least one:
// right for most English words. A number counts two, ours.
func syllables(word string) int {
	word = strings.ToLower(word)
	if regexp.MustCompile(`\d`).MatchString(word) {
		return 2
	}
	word = strings.ReplaceAll(word, "ely", "ly") // likely
	n := len(vowels.FindAllString(word, -1))
	if n > 1 && silent.MatchString(word) {
		n--
	}
	return max(n, 1)
}

// flesch is the reading ease of a text: 206.835 less 1.015 times the words in a
// sentence less 84.6 times the syllables in a word. Flesch, R. (1948), A new
// readability yardstick, J. Appl. Psychol. 32:221-233. 60 to 70 is plain English,
// 70 to 80 fairly easy (the paper's own scale). As is usual, clauses that end in
// a colon or semicolon count as sentences.
func flesch(text string) float64 {
	words := wordOf.FindAllString(text, -1)
	n := 0
	for _, w := range words {
		n += syllables(w)
	}
	sentences := len(sentenceEnd.FindAllString(text, -1))
	return 206.835 - 1.015*float64(len(words))/float64(sentences) - 84.6*float64(n)/float64(len(words))
}

// By hand from the formula: six words of one syllable in one sentence give
// 206.835 - 6.09 - 84.6 = 116.145; four words, seven syllables, 54.7.
func TestFlesch(t *testing.T) {
	require.InDelta(t, 116.145, flesch("The cat sat on the mat."), 1e-9)
	require.InDelta(t, 206.835-4.06-84.6*7/4, flesch("Volunteers chose many fields."), 1e-9)
	for word, want := range map[string]int{"eggs": 1, "nematode": 3, "township": 2, "figures": 2, "make": 1, "sampled": 2,
		"little": 2, "rotate": 2, "county": 2, "likely": 2, "the": 1, "moves": 1, "times": 1, "came": 1, "places": 2, "missed": 1} {
		require.Equal(t, want, syllables(word), word)
	}
}

// The points read easily: all together at 70 or more, and none under 50. A
// room listens better than it reads.
func TestPointsReadEasily(t *testing.T) {
	little := Facts{County: "Plover County", State: "Aldermark", Townships: 22, Shown: 1, Bags: 12, Share: shareOf(0, 12), Missed: 192,
		Typical: "none found", TypicalNone: true, Neighbors: 3, StateCounties: 5, Unconfirmed: 2,
		Fall: &Fall{Year: "2026", Bags: 10, Finds: 5, Few: true}}
	for name, f := range map[string]Facts{"everything": everything(), "little": little,
		"nothing": {County: "Plover County", State: "Aldermark", Townships: 22, StateCounties: 9, Neighbors: 2}} {
		t.Run(name, func(t *testing.T) {
			var all []string
			for _, p := range Points(f) {
				text := said(p)
				t.Logf("%5.1f  %-11s %s", flesch(text), p.ID, text)
				require.GreaterOrEqual(t, flesch(text), 50.0, text)
				all = append(all, text)
			}
			require.GreaterOrEqual(t, flesch(strings.Join(all, " ")), 70.0)
		})
	}
}
