package open

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
)

// fakeEnds gives every fall's end.
type fakeEnds map[int]time.Time

func (f fakeEnds) SeasonEnds(context.Context) (map[int]time.Time, error) { return f, nil }

func (f *fakeOffice) answerOf(r *sample.Result) sample.Secret {
	secret := sample.Secret{byte(len(f.answers) + 1)}
	f.answers[secret] = sample.Answer{Season: 2026, County: 2, Received: true, Result: r}
	return secret
}

// What the table of levels and published trials say of varieties, by level: the
// figures are those of Chen and others 2001 (susceptible 3.3, 0.74 to 9.91;
// resistant 0.49, 0.21 to 0.73), Niblack, Baker and Norton 1992 (5.7 to 35.8 %)
// and the six-year sequence of ISU IPM 63 (2008).
func TestAnswerSaysWhatTheLevelMeantForVarieties(t *testing.T) {
	for name, c := range map[string]struct {
		eggs     int
		table    string
		has, not []string
	}{
		"low":      {20, "susceptible variety can have its turn", []string{"10 to 50", "3.3 times", "0.74 to 9.91", "49 eggs of 100", "21 to 73"}, nil},
		"moderate": {100, "Start with resistant varieties", []string{"6 to 36 percent", "16 to 32 percent"}, nil},
		"high":     {300, "No soybean for several years", []string{"can lose yield too"}, nil},
		"none":     {0, "", nil, []string{"Susceptible varieties", "3.3 times"}},
	} {
		t.Run(name, func(t *testing.T) {
			f := newOffice()
			_, doc := get(t, growerDeps(f), "/answer/"+f.answerOf(counted(t, c.eggs, false)).String())
			text := doc.Find("main").Text()
			for _, s := range c.has {
				require.Contains(t, doc.Find("dl.varieties").Text(), s)
			}
			for _, s := range c.not {
				require.NotContains(t, doc.Find("main > dl.varieties").Text(), s)
			}
			says := doc.Find("#table-says")
			if c.table == "" {
				require.Zero(t, says.Length())
			} else {
				require.Contains(t, says.Text(), c.table)
				require.Contains(t, says.Text(), "IPM 63", "the table's source stands beside it")
			}
			for _, alike := range []string{"Iron deficiency", "Herbicide injury", "Lack of potassium", "Root rot"} {
				require.Contains(t, text, alike)
			}
			require.Equal(t, "/county/plover/paper/roots.pdf", doc.Find("#look a").AttrOr("href", ""))
		})
	}
}

// A table of the office's own says nothing of varieties, and the page does not
// pretend that it does.
func TestAnOwnTableSaysNothingOfVarieties(t *testing.T) {
	f := newOffice()
	f.scheme = assay.DefaultScheme()
	f.scheme.Key = "own"
	_, doc := get(t, growerDeps(f), "/answer/"+f.answerOf(counted(t, 100, false)).String())
	require.Zero(t, doc.Find("#table-says").Length())
	require.Contains(t, doc.Find("dl.varieties").Text(), "6 to 36 percent")
}

// Every sentence about a level of a table belongs to a class that the table has.
func TestTableSentencesBelongToClasses(t *testing.T) {
	known := map[string]bool{}
	for _, s := range assay.Presets() {
		for _, c := range s.Found() {
			known["answer.table."+s.Key+"."+c.Name] = true
		}
	}
	n := 0
	for _, key := range catalog.English().Keys() {
		if strings.HasPrefix(key, "answer.table.") && key != "answer.table.link" {
			require.True(t, known[key], key)
			n++
		}
	}
	require.Positive(t, n)
}

func TestAnswerAndReceiptSayWhenTheyEnd(t *testing.T) {
	f := newOffice()
	d := growerDeps(f)
	secret := f.answerOf(counted(t, 20, false))
	_, doc := get(t, d, "/answer/"+secret.String())
	require.Zero(t, doc.Find("#ends").Length(), "nothing is said that is not known")
	d.Ends = fakeEnds{2026: date(2029, time.June, 30)}
	_, doc = get(t, d, "/answer/"+secret.String())
	require.Contains(t, doc.Find("#ends").Text(), "until June 30, 2029")
	v := sample.Visit{Token: sample.Token{1}, Senders: []sample.Sender{{Bags: []sample.Bag{{Code: testCodes(t, 1)[0], Place: 201, Season: 2026, Day: fakeToday}}}}}
	got, err := viewReceipt(v, sample.Form{}, newGround(f.places, f.seasons), d.Ends.(fakeEnds), "https://x.example")
	require.NoError(t, err)
	require.Equal(t, date(2029, time.June, 30), *got.Bags[0].Ends)
}

// The map on an answer is the county's, the same for everybody, and no township
// is marked in it or named beside it.
func TestAnswerMapMarksNothing(t *testing.T) {
	f := newOffice()
	d := growerDeps(f)
	d.Drawings = drawnMaps{}
	first, second := f.answerOf(counted(t, 20, false)), f.answerOf(counted(t, 0, false))
	_, doc := get(t, d, "/answer/"+first.String())
	_, other := get(t, d, "/answer/"+second.String())
	picture, err := doc.Find(".answer-map").Html()
	require.NoError(t, err)
	again, err := other.Find(".answer-map").Html()
	require.NoError(t, err)
	require.Equal(t, picture, again, "it does not depend on the bag")
	require.Equal(t, 2, doc.Find(".answer-map svg").Length())
	html, err := doc.Find("main").Html()
	require.NoError(t, err)
	for _, p := range f.places {
		if p.County != 0 {
			require.NotContains(t, html, p.Code)
		}
	}
	d.Drawings = drawnMaps{fault.ErrUnavailable}
	res, doc := get(t, d, "/answer/"+first.String())
	require.Equal(t, http.StatusOK, res.StatusCode, "an answer does not wait for a map")
	require.Zero(t, doc.Find(".answer-map svg").Length())
	require.Equal(t, "/county/plover", doc.Find(".answer-map a").AttrOr("href", ""))
}

type drawnMaps struct{ err error }

func (d drawnMaps) CountyDrawings(_ context.Context, l *catalog.Lang, slug string) (string, string, error) {
	return "<svg lang=" + l.Code() + " data-of=" + slug + "></svg>", "<svg></svg>", d.err
}

func TestAnswerInSpanish(t *testing.T) {
	f := newOffice()
	d := growerDeps(f)
	d.Lang, d.Ends = catalog.Spanish().At("/es"), fakeEnds{2026: date(2029, time.June, 30)}
	for _, eggs := range []int{0, 3, 20, 100, 300} {
		_, doc := get(t, d, "/answer/"+f.answerOf(counted(t, eggs, false)).String())
		require.Equal(t, "es-US", doc.Find("html").AttrOr("lang", ""))
		require.Equal(t, "Su respuesta", doc.Find("h1").Text())
		require.Contains(t, doc.Find("#ends").Text(), "30 de junio de 2029")
		for _, english := range []string{"eggs", " the ", "soil", "Level"} {
			names := strings.NewReplacer(f.scheme.Title, "", f.scheme.Source, "") // as the source has them
			require.NotContains(t, names.Replace(doc.Find("main").Text()), english)
		}
	}
}
