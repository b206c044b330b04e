package markuptest

import (
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"
)

func TestProblems(t *testing.T) {
	for _, c := range []struct{ page, want string }{
		{`<h1>A</h1><h2 id="x">B</h2><label for="y">L</label><input id="y" aria-describedby="x"><a href="#x">x</a><label>M <select><option>o</option></select></label><button>b</button>`, ""},
		{`<p id="x"></p><p id="x"></p>`, "stands twice"},
		{`<label for="z">L</label>`, `for of a label leads to no "z"`},
		{`<input aria-label="a" aria-describedby="z">`, `aria-describedby of a input leads to no "z"`},
		{`<a href="#z">z</a>`, "link #z leads nowhere"},
		{`<input name="n">`, `input "n" has no label`},
		{`<h1>A</h1><h3>B</h3>`, `h3 "B" follows h1`},
		{`<label>L <select name="s"><option></option></select></label>`, `an option of "s" says nothing`},
		{`<button> </button>`, "a button has no words"},
	} {
		d, err := goquery.NewDocumentFromReader(strings.NewReader(c.page))
		require.NoError(t, err)
		got := Problems(d)
		if c.want == "" {
			require.Empty(t, got, c.page)
			continue
		}
		require.Len(t, got, 1, c.page)
		require.Contains(t, got[0], c.want)
	}
}
