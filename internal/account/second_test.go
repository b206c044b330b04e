package account

import (
	"crypto/rand"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const rfcKey = "12345678901234567890" // of both RFCs' tables

// RFC 4226, Appendix D: HOTP values of six digits for the counters 0 to 9.
func TestCounterValuesOfRFC4226(t *testing.T) {
	for i, want := range []string{"755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"} {
		require.Equal(t, want, oneTime([]byte(rfcKey), uint64(i), 6))
	}
}

// RFC 6238, Appendix B: TOTP values of eight digits, SHA-1 rows. Ours are the
// last six of them (RFC 4226 section 5.3: the value modulo ten to the digits).
func TestTimeValuesOfRFC6238(t *testing.T) {
	seed := Seed([]byte(rfcKey))
	for unix, want := range map[int64]string{
		59: "94287082", 1111111109: "07081804", 1111111111: "14050471",
		1234567890: "89005924", 2000000000: "69279037", 20000000000: "65353130",
	} {
		at := time.Unix(unix, 0)
		require.Equal(t, want, oneTime(seed[:], uint64(Step(at)), 8), unix)
		require.Equal(t, want[2:], seed.Code(Step(at)), unix)
		step, ok := seed.Check(want[2:], at, 0)
		require.True(t, ok)
		require.Equal(t, Step(at), step)
	}
}

func TestACodeOpensOnceAndOnlyNow(t *testing.T) {
	seed := Seed([]byte(rfcKey))
	now := time.Unix(2000000000, 0)
	code := seed.Code(Step(now))
	step, ok := seed.Check(" "+code[:3]+" "+code[3:], now, 0)
	require.True(t, ok)
	_, ok = seed.Check(code, now, step)
	require.False(t, ok, "used before")
	for off, want := range map[time.Duration]bool{-61 * time.Second: false, -30 * time.Second: true, 30 * time.Second: true, 61 * time.Second: false} {
		_, ok := seed.Check(code, now.Add(off), 0)
		require.Equal(t, want, ok, off)
	}
	for _, wrong := range []string{"", "000000", code[:5], code + "0", "abcdef"} {
		_, ok := seed.Check(wrong, now, 0)
		require.False(t, ok, wrong)
	}
}

// RFC 4648, section 10: base 32 of "foobar" is MZXW6YTBOI.
func TestSeedsAreBase32(t *testing.T) {
	require.Equal(t, "MZXW6YTBOI", plain32.EncodeToString([]byte("foobar")))
	s, err := NewSeed(rand.Reader)
	require.NoError(t, err)
	back, err := ParseSeed(s.String())
	require.NoError(t, err)
	require.Equal(t, s, back)
	for _, bad := range []string{"", "x", s.String()[1:], s.String() + "A", strings.ToLower(s.String())} {
		_, err := ParseSeed(bad)
		require.ErrorIs(t, err, ErrSeed)
	}
	u, err := url.Parse(s.Address("Soil: Watch & Co", "robin"))
	require.NoError(t, err)
	require.Equal(t, "otpauth", u.Scheme)
	require.Equal(t, "totp", u.Host)
	require.Equal(t, "/Soil  Watch & Co:robin", u.Path)
	require.Equal(t, s.String(), u.Query().Get("secret"))
	require.Equal(t, "Soil: Watch & Co", u.Query().Get("issuer"))
}

func TestRecoveryCodesAndLinks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		raw := rapid.SliceOfN(rapid.Byte(), 10, 10).Draw(t, "raw")
		c := Recovery(raw)
		for _, typed := range []string{c.String(), strings.ToLower(c.String()), strings.ReplaceAll(c.String(), "-", " "), strings.ReplaceAll(c.String(), "O", "0")} {
			back, err := ParseRecovery(typed)
			if err != nil || back != c {
				t.Fatalf("%q reads as %v, %v", typed, back, err)
			}
		}
		l := Link(append(raw, 1, 2, 3, 4, 5, 6))
		if back, err := ParseLink(l.String()); err != nil || back != l {
			t.Fatalf("%q reads as %v, %v", l, back, err)
		}
	})
	codes, err := NewRecoveries(rand.Reader)
	require.NoError(t, err)
	require.Len(t, codes, 10)
	require.Regexp(t, `^([A-Z2-7]{4}-){3}[A-Z2-7]{4}$`, codes[0].String())
	require.NotEqual(t, codes[0], codes[1])
	for _, bad := range []string{"", "ABCD", codes[0].String() + "A", "1111-1111-1111-1111", "ÄBCD-EFGH-IJKL-MNOP"} {
		_, err := ParseRecovery(bad)
		require.ErrorIs(t, err, ErrRecovery, bad)
	}
	for _, bad := range []string{"", "x", strings.Repeat("A", 21), strings.Repeat("A", 23), strings.Repeat("A", 21) + "B"} {
		_, err := ParseLink(bad)
		require.ErrorIs(t, err, ErrLink, bad)
	}
	// What is stored tells nothing apart from what made it.
	hashes := map[string]bool{}
	for _, h := range [][32]byte{Link{}.Hash(), Recovery{}.Hash(), Token{}.Hash()} {
		hashes[fmt.Sprintf("%x", h)] = true
	}
	require.Len(t, hashes, 3)
}

func FuzzParseRecovery(f *testing.F) {
	f.Add("ABCD-EFGH-IJKL-MNOP")
	f.Add("abcd efgh 0jkl mnop")
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseRecovery(s)
		if err != nil {
			return
		}
		if back, err := ParseRecovery(c.String()); err != nil || back != c {
			t.Fatalf("%q", s)
		}
	})
}
