package catalog

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The grammar and the weights are RFC 9110, section 12.5.4; what a region falls
// back to is RFC 4647, lookup.
func TestChooseByAcceptLanguage(t *testing.T) {
	for accept, want := range map[string]string{
		"": "en", "*": "en", "not a language;;": "en",
		"es": "es", "es-MX": "es", "es-419,es;q=0.9,en;q=0.8": "es", "ES-us": "es",
		"en-US,en;q=0.9,es;q=0.8": "en", "en;q=0.3, es;q=0.7": "es",
		"de": "en", "de, es;q=0.5": "es", "fr-CA,fr;q=0.8": "en",
	} {
		t.Run(accept, func(t *testing.T) { require.Equal(t, want, Choose(accept).Code()) })
	}
}

// CLDR, es-US: groups of three with a comma, as on American labels; the day
// before the month.
func TestSpanishNumbersAndDates(t *testing.T) {
	l := Spanish()
	require.Equal(t, "es-US", l.Tag())
	require.Equal(t, "12,000", l.Number(12000))
	require.Equal(t, "950", l.Number(950))
	day := time.Date(2026, 11, 4, 0, 0, 0, 0, time.UTC)
	require.Equal(t, "4 de noviembre de 2026", l.Date(day))
	require.Equal(t, "noviembre de 2026", l.MonthYear(day))
}

func TestALanguageBorrowsWhatItLacks(t *testing.T) {
	require.False(t, own(Spanish(), "tray.title"), "the office is in English")
	require.Equal(t, English().Say("tray.title"), Spanish().Say("tray.title"))
	require.Equal(t, "[nope]", Spanish().Say("nope"))
}

func own(l *Lang, key string) bool { _, ok := l.sentences[key]; return ok }

func TestAPrefixMakesAnotherKey(t *testing.T) {
	l := Spanish().At("/es")
	require.Equal(t, "/es", l.Prefix())
	require.Empty(t, Spanish().Prefix(), "the catalog itself is not changed")
	require.NotEqual(t, English().Key(), English().At("/en").Key())
	require.Equal(t, Spanish().Say("frame.skip"), l.Say("frame.skip"))
}
