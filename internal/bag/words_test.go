package bag

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestWordList(t *testing.T) {
	require.Len(t, wordList, 2048, "eleven bits a word")
	require.Len(t, wordNumber, 2048, "each once")
	require.GreaterOrEqual(t, WordsBits, 44)
	for _, w := range wordList {
		require.Regexp(t, `^([bdfgklmnprst][aeio]){2}$`, w)
		require.NotContains(t, strings.Fields(unkindWords), w)
	}
}

// Stubs are printed with these: the list may never change its order.
func TestWordsAreTheSameForEver(t *testing.T) {
	require.Equal(t, "beba beba beba beba", Words(0).String())
	require.Equal(t, "dibo nina romo gefe", Words(0x123456789ab).String())
	require.Equal(t, "sata sata sata sata", Words(1<<WordsBits-1).String())
}

func TestWordsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := Words(rapid.Uint64Range(0, 1<<WordsBits-1).Draw(t, "words"))
		got, err := ParseWords(w.String())
		require.NoError(t, err)
		require.Equal(t, w, got)
		typed := strings.ToUpper(strings.ReplaceAll(w.String(), " ", rapid.SampledFrom([]string{"", "-", "  ", ", ", "\t"}).Draw(t, "between")))
		got, err = ParseWords(" " + typed + "\n")
		require.NoError(t, err)
		require.Equal(t, w, got)
	})
}

func TestWordsRefused(t *testing.T) {
	good := Words(12345).String()
	for name, s := range map[string]string{
		"nothing": "", "three words": good[:14], "five words": good + " lamo", "a digit": "1" + good[1:],
		"an accent": strings.Replace(good, string(good[1]), "á", 1), "no word of the list": "xxxx" + good[4:], "markup": "<script>" + good,
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ParseWords(s)
			require.ErrorIs(t, err, ErrWords)
		})
	}
}

func FuzzParseWords(f *testing.F) {
	f.Add("lamo beti dako reno")
	f.Add("")
	f.Fuzz(func(t *testing.T, s string) {
		w, err := ParseWords(s)
		if err == nil {
			require.Less(t, w, Words(1)<<WordsBits)
			again, err := ParseWords(w.String())
			require.NoError(t, err)
			require.Equal(t, w, again)
		}
	})
}
