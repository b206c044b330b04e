package open

import (
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/catalog"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// counted is a result as the lab's own arithmetic makes it.
func counted(t interface {
	Errorf(string, ...any)
	FailNow()
}, eggs int, cyst bool) *sample.Result {
	m := assay.DefaultMethod()
	c := m.Count(eggs)
	c.CystSeen = cyst
	r, err := c.Density(m)
	require.NoError(t, err)
	return &sample.Result{
		Kind: "counted", Eggs: eggs, Density: float64(r.Density), Low: r.Limits.Low, High: r.Limits.High,
		Limits: true, Cyst: cyst, Method: 1,
	}
}

func viewOf(r *sample.Result, s assay.Scheme) answerView {
	return viewAnswer(sample.Answer{Season: 2026, County: 2, Received: true, Result: r}, s,
		map[int]assay.Method{1: assay.DefaultMethod()})
}

// 42 eggs in 2 of 100 mL from 100 cm³ are 2,100 (the worked dilution case of
// the lab pages of ISU and MU). The limits are Garwood's for 10 eggs, 4.7954
// and 18.3904 (Biometrika 28:437-442, 1936), times the 50 that an egg stands for.
func TestAnswerFigures(t *testing.T) {
	v := viewOf(counted(t, 42, false), assay.DefaultScheme())
	require.Equal(t, 2100, v.Density)
	require.Equal(t, "moderate", v.Class.Name, "ISU 2008, soybean next: moderate begins at 2,001")
	require.Equal(t, sureBetween, v.Sure)
	require.Equal(t, []string{"low", "moderate"}, []string{v.SureLow, v.SureHigh})

	v = viewOf(counted(t, 10, false), assay.DefaultScheme())
	require.Equal(t, []int{500, 240, 920, 10}, []int{v.Density, v.Low, v.High, v.Seen})
	require.Equal(t, "low", v.Class.Name)
	require.Equal(t, sureOne, v.Sure)

	v = viewOf(counted(t, 300, false), assay.DefaultScheme())
	require.Equal(t, "high", v.Class.Name, "15,000 is over 12,000")
}

// 30 and 12 eggs in two portions of a milliliter differ more than counting makes
// them: the index of dispersion is 2 x 9²/21 = 7.71, beyond 3.84 (chi-square, one
// degree of freedom). The limits are then those of a negative binomial count with that
// spread, 14.7644 and 85.7747 eggs (worked out apart from the program, by adding up
// its probabilities), and the page must not call them Poisson's: 30.27 and 56.77.
func TestAnswerOfPortionsThatDisagree(t *testing.T) {
	m := assay.DefaultMethod()
	c := m.Count(0)
	c.Aliquots = []assay.Aliquot{{ML: 1, Eggs: 30}, {ML: 1, Eggs: 12}}
	r, err := c.Density(m)
	require.NoError(t, err)
	result := counted(t, 42, false)
	result.Low, result.High, result.LimitsBy = r.Limits.Low, r.Limits.High, r.LimitsBy.String()
	v := viewOf(result, assay.DefaultScheme())
	require.Equal(t, []int{2100, 738, 4289}, []int{v.Density, v.Low, v.High})
	require.True(t, v.Clumped)
	require.Contains(t, v.Sources, "clumped")
	require.NotContains(t, v.Sources, "limits")
	result.LimitsBy = assay.ExactPoisson.String()
	v = viewOf(result, assay.DefaultScheme())
	require.False(t, v.Clumped)
	require.Contains(t, v.Sources, "limits")
}

// With eggs in cysts of 150 and 2 % of the eggs of 100 cm³ looked at, a bag is
// missed one time in twenty at -ln(0.05) x 150 / (1 - e^-3) = 472.9, and one of
// 200 with chance exp(-200/150 x 0.9502) = 0.2817; both worked out by hand.
func TestNoneFoundIsWorthSomething(t *testing.T) {
	v := viewOf(counted(t, 0, false), assay.DefaultScheme())
	require.Equal(t, adviceNone, v.Advice)
	require.Equal(t, eggsNone, v.Eggs)
	require.False(t, v.Limits, "limits of the slide alone would promise too much")
	require.True(t, v.Worth)
	require.Equal(t, []int{470, 200, 28}, []int{v.Missed, v.Some, v.Times})
	require.Empty(t, v.Sure)

	v = viewAnswer(sample.Answer{Result: counted(t, 0, false)}, assay.DefaultScheme(), nil)
	require.False(t, v.Worth, "an unknown method gives no figure")
}

func TestAnswerKinds(t *testing.T) {
	tests := map[string]struct {
		r      *sample.Result
		scheme string
		class  string
		advice advice
		eggs   eggsShown
		sure   sureness
	}{
		"four eggs":            {counted(t, 4, false), assay.SchemeISUSoybeanNext, "unconfirmed", adviceUnconfirmed, eggsDensity, ""},
		"four eggs and a cyst": {counted(t, 4, true), assay.SchemeISUSoybeanNext, "low", adviceLow, eggsDensity, sureOne},
		"a cyst, no eggs":      {counted(t, 0, true), assay.SchemeISUSoybeanNext, "unconfirmed", adviceUnconfirmed, eggsCyst, ""},
		"juveniles only": {&sample.Result{Kind: "counted", Limits: true, High: 184, Juveniles: true, Method: 1},
			assay.SchemeISUSoybeanNext, "unconfirmed", adviceUnconfirmed, eggsJuveniles, ""},
		"a density only": {&sample.Result{Kind: "density", Density: 2500, Method: 1},
			assay.SchemeISUSoybeanNext, "moderate", adviceMiddle, eggsDensity, sureUnknown},
		"lowest of four":  {counted(t, 4, true), assay.SchemeMinnesota, "very_low", adviceLow, eggsDensity, sureBetween},
		"second of four":  {counted(t, 20, true), assay.SchemeMinnesota, "low_to_moderate", adviceMiddle, eggsDensity, sureOne},
		"highest of four": {counted(t, 400, true), assay.SchemeMinnesota, "very_high", adviceHigh, eggsDensity, sureOne},
		"a class only":    {&sample.Result{Kind: "class", Method: 1}, assay.SchemeISUSoybeanNext, "", "", eggsNone, ""},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			s, ok := assay.Preset(tt.scheme)
			require.True(t, ok)
			v := viewOf(tt.r, s)
			require.Equal(t, stateCounted, v.State)
			require.Equal(t, tt.class, v.Class.Name)
			require.Equal(t, tt.advice, v.Advice)
			require.Equal(t, tt.eggs, v.Eggs)
			require.Equal(t, tt.sure, v.Sure)
		})
	}
	s := assay.DefaultScheme()
	s.Classes = s.Classes[:3]
	s.Classes[2].Upper = assay.Density(math.Inf(1))
	require.NoError(t, s.Check())
	require.Equal(t, adviceMiddle, viewOf(counted(t, 100, false), s).Advice, "one found class is neither low nor high")
}

func TestAnswerStates(t *testing.T) {
	r := counted(t, 42, false)
	for want, a := range map[answerState]sample.Answer{
		stateWaiting: {}, stateCounting: {Received: true}, stateCounted: {Received: true, Result: r},
	} {
		v := viewAnswer(a, assay.DefaultScheme(), nil)
		require.Equal(t, want, v.State)
		require.Equal(t, want == stateCounted, v.Class.Kind != 0, "no result before it may be told")
	}
}

// A page must not tell an unknown, used or doubled code from one that was
// issued: a held answer reads to the letter like one without a result.
func TestAHeldAnswerLooksLikeAnyOther(t *testing.T) {
	r := counted(t, 42, false)
	for _, received := range []bool{false, true} {
		plain := viewAnswer(sample.Answer{Received: received}, assay.DefaultScheme(), nil)
		require.Equal(t, plain, viewAnswer(sample.Answer{Received: received, Held: true}, assay.DefaultScheme(), nil))
		require.Equal(t, plain, viewAnswer(sample.Answer{Received: received, Held: true, Result: r}, assay.DefaultScheme(), nil))
	}
}

func TestAnswerUnfitMethod(t *testing.T) {
	m := assay.NewMethod("sugar_float", 100, 50, 5)
	v := viewAnswer(sample.Answer{Result: counted(t, 42, false)}, assay.DefaultScheme(), map[int]assay.Method{1: m})
	require.True(t, v.Unfit)
	require.False(t, viewOf(counted(t, 42, false), assay.DefaultScheme()).Unfit)
}

// Whatever the count and the scheme, each step and source is a sentence, and
// the figures are in order.
func TestAnswerAlwaysHolds(t *testing.T) {
	en := catalog.English()
	rapid.Check(t, func(rt *rapid.T) {
		s := rapid.SampledFrom(assay.Presets()).Draw(rt, "scheme")
		v := viewOf(counted(rt, rapid.IntRange(0, 4000).Draw(rt, "eggs"), rapid.Bool().Draw(rt, "cyst")), s)
		require.NotEmpty(rt, v.Advice)
		require.True(rt, en.Has("level."+v.Class.Name))
		require.True(rt, en.Has("answer.means."+string(v.Advice)))
		require.NotEmpty(rt, v.Next)
		for _, k := range v.Next {
			require.True(rt, en.Has("answer.next."+k), k)
		}
		require.NotEmpty(rt, v.Sources)
		for _, k := range v.Sources {
			require.True(rt, en.Has("answer.source."+k), k)
		}
		if v.Limits {
			require.LessOrEqual(rt, v.Low, v.Density)
			require.LessOrEqual(rt, v.Density, v.High)
		}
		require.NotEmpty(rt, v.Mark.Fill)
		switch v.Class.Kind {
		case assay.None:
			require.Empty(rt, v.Mark.Furrows)
		case assay.Unconfirmed:
			require.Len(rt, v.Mark.Furrows, 1)
		default:
			require.Len(rt, v.Mark.Furrows, v.Class.Rank-1, "the number of lines is the class")
		}
	})
}

// Every step and source that the catalog has is used: none is orphaned.
func TestNoAdviceIsOrphaned(t *testing.T) {
	used := map[string]bool{}
	for a, steps := range nextSteps {
		for _, k := range steps {
			used["answer.next."+k] = true
		}
		for _, clumped := range []bool{false, true} {
			v := answerView{Advice: a, Limits: true, Clumped: clumped, Worth: true}
			for _, k := range v.sources() {
				used["answer.source."+k] = true
			}
		}
	}
	for _, k := range catalog.English().Keys() {
		if strings.HasPrefix(k, "answer.next.") || strings.HasPrefix(k, "answer.source.") {
			require.True(t, used[k], k)
		}
	}
}

func TestTwoDigits(t *testing.T) {
	for in, want := range map[float64]int{472.9: 470, 1049: 1000, 1051: 1100, 99.6: 100, 47.2: 47, 3.26: 3, 0.4: 0, 0: 0} {
		require.Equal(t, want, twoDigits(in), in)
	}
}

func secretOf(n byte) sample.Secret { return sample.Secret{n} }

func TestAnswerPage(t *testing.T) {
	office := newOffice()
	office.answers[secretOf(1)] = sample.Answer{Season: 2026, County: 2, Received: true, Result: counted(t, 42, false)}
	res, doc := get(t, growerDeps(office), "/answer/"+secretOf(1).String())
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
	require.Equal(t, "noindex, nofollow", doc.Find(`meta[name=robots]`).AttrOr("content", ""))
	require.Contains(t, doc.Find(".result-level").Text(), "moderate")
	require.Equal(t, 2, doc.Find(".result-level svg path").Length(), "moderate is two lines of three")
	require.Contains(t, doc.Find(".result-count").Text(), "2,100 eggs per 100 cm³ of soil")
	require.Regexp(t, `Likely between 1,51\d and 2,83\d`, doc.Find(".result").Text())
	require.Contains(t, doc.Find("main").Text(), "from “low” to “moderate”")
	require.Equal(t, 7, doc.Find("ol.steps li").Length())
	require.Equal(t, 6, doc.Find(".cautions li").Length())

	link := doc.Find(`.answer-map a`)
	require.Equal(t, "/county/plover", link.AttrOr("href", ""), "no mark of the township")
	body := doc.Find("main").Text()
	for _, p := range office.places {
		if p.Kind == place.Township {
			require.NotContains(t, body, p.Code)
		}
	}
}

func TestAnswerPageStates(t *testing.T) {
	office := newOffice()
	office.answers[secretOf(1)] = sample.Answer{Season: 2026, County: 2}
	office.answers[secretOf(2)] = sample.Answer{Season: 2026, County: 2, Received: true}
	office.answers[secretOf(3)] = sample.Answer{Season: 2026, County: 10, Held: true}
	office.answers[secretOf(4)] = sample.Answer{Season: 2026, County: 2, Received: true, Result: counted(t, 0, false)}
	office.answers[secretOf(5)] = sample.Answer{Season: 2026, County: 2, Received: true, Result: counted(t, 3, false)}
	office.answers[secretOf(6)] = sample.Answer{Season: 2026, County: 2, Received: true, Result: &sample.Result{Kind: "class"}}
	changed := *counted(t, 3, false)
	office.answers[secretOf(7)] = sample.Answer{Season: 2026, County: 2, Received: true, Result: &changed, Changed: true, Follow: "K7QF2M9X"}
	office.answers[secretOf(8)] = sample.Answer{Season: 2026, County: 2, Received: true, Changed: true}
	for n, says := range map[byte]string{
		7: "This answer has changed.", 8: "The figure that stood here turned out to be wrong",
		1: "The soil is not yet", 2: "There is no answer yet", 3: "The soil is not yet",
		4: "missed about one time in twenty", 5: "follow-up bag free", 6: "no row for this result",
	} {
		res, doc := get(t, growerDeps(office), "/answer/"+secretOf(n).String())
		require.Equal(t, http.StatusOK, res.StatusCode)
		require.Contains(t, doc.Find("main").Text(), says)
		require.Equal(t, n == 7, strings.Contains(doc.Find("#follow").Text(), "K7QF-2M9X"), "%d", n)
		require.Equal(t, n > 3 && n < 8, doc.Find(".result").Length() == 1, "%d", n)
	}
}

// A wrong secret and a malformed one are answered alike.
func TestUnknownAnswers(t *testing.T) {
	d := growerDeps(newOffice())
	for _, secret := range []string{secretOf(9).String(), "x", strings.Repeat("A", 21) + "B", "%3Cscript%3E", fmt.Sprint(1 << 40)} {
		res, doc := get(t, d, "/answer/"+secret)
		require.Equal(t, http.StatusNotFound, res.StatusCode, secret)
		require.Equal(t, "failed", strings.TrimSpace(doc.Text()))
		require.Equal(t, "no-store", res.Header.Get("Cache-Control"))
	}
}
