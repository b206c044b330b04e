package bag

import (
	"bytes"
	"crypto/rand"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCheck37Published(t *testing.T) {
	// Read in JPAC, Guidelines for the Blood Transfusion Services in the UK
	// (Red Book), annex 2 "ISBT 128 check character calculation": a worked
	// example of ISO 7064 MOD 37-2, weighted sum 148354, checksum 17.
	t.Run("donation number, table A2.2", func(t *testing.T) {
		got, err := check37("G123498654321")
		require.NoError(t, err)
		require.Equal(t, byte('H'), got)
	})
	// Read in the published examples of the cdigit library (npm, version
	// 2.0.0): mod37_2.compute('12CD') is '6'.
	t.Run("reference library", func(t *testing.T) {
		got, err := check37("12CD")
		require.NoError(t, err)
		require.Equal(t, byte('6'), got)
	})
	t.Run("the star is no letter of a body", func(t *testing.T) {
		_, err := check37("12*D")
		require.Error(t, err)
	})
}

// The standard's other way to compute, by weights as the Red Book's steps 1-6
// lay it out, must agree with the recursive way.
func TestCheck37WeightsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[0-9A-Z]{1,13}`).Draw(t, "s")
		sum := 0
		for i := range len(s) {
			sum += strings.IndexByte(checkAlphabet, s[i]) << (len(s) - i)
		}
		got, err := check37(s)
		require.NoError(t, err)
		require.Equal(t, checkAlphabet[(38-sum%37)%37], got)
	})
}

func drawCode(t *rapid.T) Code {
	seed := rapid.SliceOfN(rapid.Byte(), 16, 64).Draw(t, "seed")
	c, err := Draw(io.MultiReader(bytes.NewReader(seed), rand.Reader))
	require.NoError(t, err)
	return c
}

func TestDrawnCodesParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCode(t)
		require.Len(t, string(c), Length)
		for _, r := range string(c) {
			require.Contains(t, Alphabet, string(r))
		}
		for _, typed := range []string{
			string(c), c.String(), strings.ToLower(c.String()),
			" " + string(c[:2]) + " " + string(c[2:5]) + "\u2013" + string(c[5:]) + "\r\n",
			"\ufeff" + strings.Join(strings.Split(string(c), ""), "\u00a0"),
		} {
			back, err := Parse(typed)
			require.NoError(t, err)
			require.Equal(t, c, back)
		}
	})
}

func TestEverySingleErrorAndSwapIsCaught(t *testing.T) {
	caught := func(t *testing.T, b []byte) {
		t.Helper()
		_, err := Parse(string(b))
		var pe *ParseError
		require.True(t, errors.As(err, &pe))
		require.Equal(t, Check, pe.Reason)
	}
	for range 300 {
		c, err := Draw(rand.Reader)
		require.NoError(t, err)
		for i := range Length {
			for j := range len(Alphabet) {
				if Alphabet[j] != c[i] {
					b := []byte(c)
					b[i] = Alphabet[j]
					caught(t, b)
				}
			}
			if i > 0 && c[i] != c[i-1] {
				b := []byte(c)
				b[i], b[i-1] = b[i-1], b[i]
				caught(t, b)
			}
		}
	}
}

func TestParseRefuses(t *testing.T) {
	good, err := check37("K7QF2M9")
	require.NoError(t, err)
	code := "K7QF2M9" + string(good)
	for name, tc := range map[string]struct {
		typed string
		want  ParseError
		hint  bool
	}{
		"nothing":            {"", ParseError{Reason: Empty}, false},
		"only separators":    {" - \t", ParseError{Reason: Empty}, false},
		"one short":          {code[:7], ParseError{Reason: WrongLength, Count: 7}, false},
		"one long":           {code + "2", ParseError{Reason: WrongLength, Count: 9}, false},
		"very long":          {strings.Repeat("K", 1<<16), ParseError{Reason: WrongLength, Count: 1 << 16}, false},
		"zero":               {"K0QF-2M9X", ParseError{Reason: Letter, Letter: '0', Place: 2}, true},
		"letter o":           {"K7QF-2M9o", ParseError{Reason: Letter, Letter: 'O', Place: 8}, true},
		"small l":            {"l7QF-2M9X", ParseError{Reason: Letter, Letter: 'L', Place: 1}, true},
		"one":                {"K7QF-1M9X", ParseError{Reason: Letter, Letter: '1', Place: 5}, true},
		"letter i":           {"K7QF-iM9X", ParseError{Reason: Letter, Letter: 'I', Place: 5}, true},
		"star":               {"K7QF-2M9*", ParseError{Reason: Letter, Letter: '*', Place: 8}, false},
		"accent":             {"K7QÉ-2M9X", ParseError{Reason: Letter, Letter: 'É', Place: 4}, false},
		"long s is not s":    {"K7Qſ-2M9X", ParseError{Reason: Letter, Letter: 'ſ', Place: 4}, false},
		"not text":           {"K7Q\xff-2M9X", ParseError{Reason: Letter, Letter: '\uFFFD', Place: 4}, false},
		"two of them, first": {"K7Q0-2M9I", ParseError{Reason: Letter, Letter: '0', Place: 4}, true},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse(tc.typed)
			var pe *ParseError
			require.True(t, errors.As(err, &pe))
			require.Equal(t, tc.want, *pe)
			require.Equal(t, tc.hint, pe.LookAlike())
			require.NotEmpty(t, pe.Error())
		})
	}
}

func TestPrintedForm(t *testing.T) {
	require.Equal(t, "K7QF-2M9X", Code("K7QF2M9X").String())
	require.Equal(t, "short", Code("short").String())
}

// Every letter takes the same number of byte values, so bodies are uniform.
func TestLettersAreUniform(t *testing.T) {
	seen := map[byte]int{}
	refused := 0
	for b := range 256 {
		letter, ok := letterOf(byte(b))
		if !ok {
			refused++
			continue
		}
		seen[letter]++
	}
	require.Equal(t, 8, refused)
	require.Len(t, seen, 31)
	for letter, n := range seen {
		require.Equal(t, 8, n, "letter %c", letter)
	}
}

func TestDrawRedrawsAmbiguousChecks(t *testing.T) {
	// Feed a body whose check character is ambiguous, then one whose is not.
	var bad, good string
	for i := range 31 * 31 {
		body := "22222" + string(Alphabet[i/31]) + string(Alphabet[i%31])
		check, err := check37(body)
		require.NoError(t, err)
		if strings.IndexByte("0O1IL*", check) >= 0 {
			bad = body
		} else {
			good = body
		}
	}
	feed := make([]byte, 0, 2*bodyLength)
	for _, letter := range []byte(bad + good) {
		feed = append(feed, byte(strings.IndexByte(Alphabet, letter)))
	}
	c, err := Draw(bytes.NewReader(feed))
	require.NoError(t, err)
	require.Equal(t, good, string(c[:bodyLength]))
}

type stuck byte

func (s stuck) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(s)
	}
	return len(p), nil
}

func TestDrawWithoutRandomness(t *testing.T) {
	_, err := Draw(stuck(0xff))
	require.ErrorIs(t, err, ErrSource)
	_, err = Draw(strings.NewReader("abc"))
	require.ErrorIs(t, err, io.EOF, "a source that ends is an error, not a short code")
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"", "K7QF-2M9X", "k7qf2m9x", "0OIL1", "\xff\xfe", "K7QF–2M9X", strings.Repeat("2", 50)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := Parse(s)
		if err != nil {
			var pe *ParseError
			if !errors.As(err, &pe) || c != "" {
				t.Fatalf("refusal is not a ParseError without a code: %v", err)
			}
			return
		}
		for _, again := range []string{string(c), c.String()} {
			if back, err := Parse(again); err != nil || back != c {
				t.Fatalf("%q does not read back: %v", again, err)
			}
		}
	})
}
