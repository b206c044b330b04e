package features

import (
	"encoding/json"
	"net/url"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func ask(t require.TestingT, s string) url.Values {
	q, err := url.ParseQuery(s)
	require.NoError(t, err)
	return q
}

// The requirements on parameters of OGC 17-069r4, 7.15.
func TestParseItems(t *testing.T) {
	for _, c := range []struct {
		asked string
		want  Query
		bad   string // the parameter at fault
	}{
		{"", Query{Limit: 100}, ""},
		{"limit=5&offset=10&f=json", Query{Limit: 5, Offset: 10}, ""},
		{"limit=1000000", Query{Limit: MaxLimit}, ""}, // Requirement 22
		{"limit=0", Query{}, "limit"},
		{"limit=-1", Query{}, "limit"},
		{"limit=ten", Query{}, "limit"},
		{"limit=1&limit=2", Query{}, "limit"},
		{"offset=-1", Query{}, "offset"},
		{"bbox=-93,42,-92,43", Query{Limit: 100, BBox: &Box{-93, 42, -92, 43}}, ""},
		{"bbox=-93,42,0,-92,43,900", Query{Limit: 100, BBox: &Box{-93, 42, -92, 43}}, ""},
		{"bbox=177,-47,-177,-40", Query{Limit: 100, BBox: &Box{177, -47, -177, -40}}, ""}, // around the back
		{"bbox=1,2,3", Query{}, "bbox"},
		{"bbox=1,5,3,2", Query{}, "bbox"},
		{"bbox=NaN,1,2,3", Query{}, "bbox"},
		{"bbox=500000,4600000,600000,4700000", Query{}, "bbox"},
		{"bbox=a,b,c,d", Query{}, "bbox"},
		{"datetime=2018-02-12T23:20:50Z", Query{Limit: 100, Datetime: "2018-02-12T23:20:50Z"}, ""},
		{"datetime=2018-02-12T00:00:00Z/..", Query{Limit: 100, Datetime: "2018-02-12T00:00:00Z/.."}, ""},
		{"datetime=/2018-03-18", Query{Limit: 100, Datetime: "/2018-03-18"}, ""},
		{"datetime=yesterday", Query{}, "datetime"},
		{"datetime=2019-01-01/2018-01-01", Query{}, "datetime"},
		{"datetime=../..", Query{}, "datetime"},
		{"level=high&name=Goose+Prairie", Query{Limit: 100, Filter: map[string]string{"level": "high", "name": "Goose Prairie"}}, ""},
		{"eggs=3", Query{}, "eggs"}, // Requirement 8
		{"Limit=3", Query{}, "Limit"},
	} {
		t.Run(c.asked, func(t *testing.T) {
			got, err := ParseItems(ask(t, c.asked), []string{"level", "name"})
			if c.bad != "" {
				var bad *BadRequest
				require.ErrorAs(t, err, &bad)
				require.Equal(t, c.bad, bad.Parameter)
				return
			}
			require.NoError(t, err)
			if c.want.Filter == nil {
				c.want.Filter = map[string]string{}
			}
			require.Equal(t, c.want, got)
		})
	}
	require.NoError(t, Only(ask(t, "f=html")))
	require.Error(t, Only(ask(t, "limit=1")))
	require.Len(t, Box{177, -47, -177, -40}.Split(), 2)
	require.Len(t, Box{-93, 42, -92, 43}.Split(), 1)
}

// Whatever is asked is read or refused, and pages follow on each other without
// gap or overlap.
func TestPages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, limit := rapid.IntRange(0, 3000).Draw(t, "n"), rapid.IntRange(1, 1200).Draw(t, "limit")
		q := Query{Limit: min(limit, MaxLimit)}
		seen := 0
		for {
			from, to := q.Cut(n)
			require.Equal(t, seen, from)
			seen = to
			if to == n {
				break
			}
			require.Greater(t, to, from)
			next, err := ParseItems(ask(t, At(url.Values{"limit": {"7"}}, to)), nil)
			require.NoError(t, err)
			require.Equal(t, to, next.Offset)
			q.Offset = next.Offset
		}
		require.Equal(t, n, seen)
	})
	require.Equal(t, "level=a%26b", At(ask(t, "level=a%26b&offset=5"), 0))
}

func FuzzParseItems(f *testing.F) {
	for _, s := range []string{"bbox=1,2,3,4", "datetime=../2020-01-01", "limit=99999999999999999999", "offset=9223372036854775807&limit=1000"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		q, err := url.ParseQuery(s)
		if err != nil {
			t.Skip()
		}
		got, err := ParseItems(q, []string{"name"})
		if err != nil {
			return
		}
		from, to := got.Cut(50)
		if from < 0 || to < from || to > 50 || got.Limit < 1 || got.Limit > MaxLimit {
			t.Fatalf("%+v cuts %d to %d", got, from, to)
		}
	})
}

func TestNegotiate(t *testing.T) {
	const browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"
	for _, c := range []struct {
		asked, accept, want string
		ok, bad             bool
	}{
		{"", "", GeoJSON, true, false},
		{"", "*/*", GeoJSON, true, false},
		{"", browser, HTML, true, false},
		{"f=json", browser, GeoJSON, true, false},
		{"f=html", "application/json", HTML, true, false},
		{"", "application/geo+json", GeoJSON, true, false},
		{"", "application/geo+json, application/json", GeoJSON, true, false},
		{"", "application/json", GeoJSON, true, false},
		{"", "text/html;q=0.1, application/json;q=0.2", GeoJSON, true, false},
		{"", "application/*;q=0.1, text/html;q=0", GeoJSON, true, false},
		{"", "*/*, application/geo+json;q=0", HTML, true, false},
		{"", "image/png", "", false, false},
		{"f=xml", "", "", false, true},
	} {
		got, ok, err := Negotiate(ask(t, c.asked), []string{c.accept}, GeoJSON, HTML)
		require.Equal(t, c.bad, err != nil, c)
		require.Equal(t, c.ok, ok, c)
		require.Equal(t, c.want, got, c)
	}
}

func TestPropertiesKeepTheirOrder(t *testing.T) {
	b, err := json.Marshal(Feature{Type: "Feature", ID: "1", Properties: Properties{{"b", 1}, {"a", `<"`}, {"c", nil}}})
	require.NoError(t, err)
	require.Equal(t, `{"type":"Feature","id":"1","geometry":null,"properties":{"b":1,"a":"\u003c\"","c":null}}`, string(b))
}

// The description is an OpenAPI 3.0 document by a library that knows the
// specification (github.com/getkin/kin-openapi).
func TestDescribe(t *testing.T) {
	s := Service{Title: "T", Description: "D", Version: "1.0.0", Base: "http://127.0.0.1/features", Collections: []string{"counties", "townships"},
		Filters: []Filter{{Name: "level", Description: "Highest level", Values: []string{"low", "high"}}, {Name: "name", Description: "Name"}}}
	text, err := Describe(s)
	require.NoError(t, err)
	again, err := Describe(s)
	require.NoError(t, err)
	require.Equal(t, text, again)
	doc, err := openapi3.NewLoader().LoadFromData(text)
	require.NoError(t, err)
	require.NoError(t, doc.Validate(t.Context()))
	op := doc.Paths.Find("/collections/{collectionId}/items").Get
	var names []string
	for _, p := range op.Parameters {
		names = append(names, p.Value.Name)
	}
	require.Equal(t, []string{"collectionId", "limit", "offset", "bbox", "datetime", "level", "name", "f"}, names)
	require.Equal(t, float64(MaxLimit), *op.Parameters.GetByInAndName("query", "limit").Schema.Value.Max)
}
