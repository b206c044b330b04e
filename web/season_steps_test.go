package web_test

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/bag"
	"sixmile/internal/sample"
)

// growers sends the forms of bundles of five, a farm each.
func (b *bench) growers(codes []bag.Code) {
	b.t.Helper()
	county, towns := b.places()
	for i := 0; i < len(codes); i += 5 {
		token, err := sample.NewToken(entropy{byte(i), byte(i >> 8)})
		require.NoError(b.t, err)
		v := url.Values{"token": {token.String()}, "do": {"send"}, "standing.0": {"first"}}
		for k, c := range codes[i : i+5] {
			for name, value := range map[string]string{"grower": "0", "code": c.String(), "county": county, "township": towns[i/5%len(towns)], "day": "2020-10-10", "harvest": "after", "crop": "soybean"} {
				v.Set(sample.Field(k, name), value)
			}
		}
		doc, res := b.page(http.MethodPost, "/en/send", v)
		require.Equal(b.t, http.StatusOK, res.StatusCode, doc.Find(".problems").Text())
	}
}

// entropy is a reader of a test's own numbers.
type entropy []byte

func (e entropy) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = e[i%len(e)] + byte(i/len(e))
	}
	return len(p), nil
}

// places are the county and its townships, as forms name them.
func (b *bench) places() (county string, towns []string) {
	b.t.Helper()
	doc := b.get("/office/slip")
	county = doc.Find("#county option:not([value=''])").First().AttrOr("value", "")
	doc.Find("select[name=township] option").Each(func(_ int, o *goquery.Selection) {
		if n, err := strconv.Atoi(o.AttrOr("value", "")); err == nil {
			towns = append(towns, strconv.Itoa(n))
		}
	})
	require.NotEmpty(b.t, county)
	require.Len(b.t, towns, 16)
	return county, towns
}

// slipless keys nine slips, and takes six bags for the county of their lot.
func (b *bench) slipless(codes []bag.Code) {
	b.t.Helper()
	require.Len(b.t, codes, 15)
	require.Equal(b.t, 15, b.get("/office/trays").Find("main a[href^='/office/slip?']").Length(), "the page of trays asks for each")
	county, towns := b.places()
	doc := b.get("/office/slip")
	for i, c := range codes {
		set := []string{"code", string(c), "do", "assume"}
		if i < 9 {
			set = []string{"code", string(c), "do", "store", "county", county, "township", towns[3], "day", "10/12/2020", "standing", "earlier"}
		}
		var res *http.Response
		doc, res = b.send(doc, "form[action='/office/slip']", set...)
		require.Equal(b.t, http.StatusOK, res.StatusCode, doc.Find("main").Text())
		ready(b.t, doc, "code")
	}
	require.Zero(b.t, b.get("/office/trays").Find("main a[href^='/office/slip?']").Length())
}

// strays lays aside what the queue holds, a button each.
func (b *bench) strays(n int) {
	b.t.Helper()
	for range n {
		doc := b.get("/office/queue")
		button := doc.Find("button[value^=laid_aside]").First()
		require.Equal(b.t, 1, button.Length())
		_, res := b.send(doc, "form#"+button.AttrOr("form", ""), "do", button.AttrOr("value", ""))
		require.Less(b.t, res.StatusCode, 400)
	}
	require.Zero(b.t, b.get("/office/queue").Find("button[value^=laid_aside]").Length())
}

// counts keys a count of every bag: a scan and Enter, the eggs and Enter.
func (b *bench) counts(codes []bag.Code) {
	b.t.Helper()
	doc := b.get("/office/count")
	for i, c := range codes {
		ready(b.t, doc, "find")
		var res *http.Response
		doc, res = b.send(doc, "form:has([name=find])", "find", string(c))
		require.Equal(b.t, http.StatusOK, res.StatusCode)
		require.Equal(b.t, "eggs1", doc.Find("[autofocus]").AttrOr("name", ""), "bag %d", i)
		doc, res = b.send(doc, "form.bench", "eggs1", strconv.Itoa(i%7), "do", "save")
		if res.StatusCode == http.StatusSeeOther {
			doc = b.get(res.Header.Get("Location"))
		} else {
			require.Equal(b.t, http.StatusOK, res.StatusCode, doc.Find(".problems, .wrong").Text())
		}
	}
}

// signed signs everything, page after page, those held for a look too.
func (b *bench) signed(n int) {
	b.t.Helper()
	done := 0
	for done < n {
		doc := b.get("/office/sign-off")
		v := url.Values{}
		doc.Find("input[name=result]").Each(func(_ int, in *goquery.Selection) { v.Add("result", in.AttrOr("value", "")) })
		require.NotEmpty(b.t, v, "%d of %d are signed", done, n)
		_, res := b.page(http.MethodPost, "/office/sign-off", v)
		require.Less(b.t, res.StatusCode, 400)
		done += len(v["result"])
	}
	require.Zero(b.t, b.get("/office/sign-off").Find("input[name=result]").Length())
}

// even wants every bag of the mail accounted for, in parts that add up to what
// was counted by hand.
func (b *bench) even(total int, parts map[string]string) {
	b.t.Helper()
	main := b.get("/office/trays").Find("main")
	require.Contains(b.t, main.Text(), "Every bag is accounted for.")
	sum, got := 0, map[string]string{}
	number := func(s *goquery.Selection) int {
		n, err := strconv.Atoi(strings.ReplaceAll(strings.TrimSpace(s.Find("td").Last().Text()), ",", ""))
		require.NoError(b.t, err)
		return n
	}
	main.Find("table.ledger tbody tr").Each(func(_ int, tr *goquery.Selection) {
		got[strings.TrimSpace(tr.Find("th").Text())] = strconv.Itoa(number(tr))
		sum += number(tr)
	})
	require.Equal(b.t, total, sum, "%v", got)
	require.Equal(b.t, total, number(main.Find("table.ledger tfoot tr").First()))
	for name, n := range parts {
		require.Equal(b.t, n, got[name], "%s: %v", name, got)
	}
}
