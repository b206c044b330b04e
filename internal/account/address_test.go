package account

import (
	"net/mail"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What RFC 5321 sections 4.1.2 and 4.5.3.1 allow of plain names, and what would
// end a header line (RFC 5322 section 2.2) or a command early.
func TestAddresses(t *testing.T) {
	for typed, want := range map[string]Address{
		"":                           "",
		"  ":                         "",
		"robin@office.example":       "robin@office.example",
		" robin@Office.EXAMPLE ":     "robin@office.example",
		"Robin.Moor+lab@a.b.example": "Robin.Moor+lab@a.b.example",
		"o'neil_x@x-y.example":       "o'neil_x@x-y.example",
		strings.Repeat("a", 64) + "@office.example": Address(strings.Repeat("a", 64) + "@office.example"),
	} {
		got, err := ParseAddress(typed)
		require.NoError(t, err, "%q", typed)
		require.Equal(t, want, got)
	}
	for _, typed := range []string{
		"robin", "@office.example", "robin@", "robin@office", "robin@@office.example", "a@b@office.example", ".a@office.example", "a..b@office.example",
		"robin@-x.example", "robin@x..example", "robin@192.0.2.7", "robin@[192.0.2.7]", `"robin moor"@office.example`, "Robin <robin@office.example>",
		"robin@office.example, other@office.example", "robin@office.example\r\nBcc: other@office.example", "robin@office.example\n", "ro\x00bin@office.example",
		"robin@office.example>\r\nDATA", "röbin@office.example", "robin@öffice.example", "robin@office.example other@x.example",
		strings.Repeat("a", 65) + "@office.example", "a@" + strings.Repeat("b.", 130) + "example",
	} {
		got, err := ParseAddress(typed)
		require.ErrorIs(t, err, ErrAddress, "%q", typed)
		require.Empty(t, got)
	}
}

// Whatever is taken is one address to the standard library too, and has nothing
// in it that ends a line.
func FuzzParseAddress(f *testing.F) {
	for _, s := range []string{"robin@office.example", "a@b.c\r\nBcc: x@y.z", "\"q\"@x.example", "a.b+c@x-y.example", "a@[::1]"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseAddress(s)
		if err != nil || a == "" {
			return
		}
		if strings.ContainsAny(string(a), "\r\n\x00 <>,;:\"\\()[]") {
			t.Fatalf("%q", a)
		}
		one, err := mail.ParseAddress(string(a))
		if err != nil || one.Address != string(a) || one.Name != "" {
			t.Fatalf("%q reads as %v, %v", a, one, err)
		}
		if again, err := ParseAddress(string(a)); err != nil || again != a {
			t.Fatalf("%q again is %q", a, again)
		}
	})
}
