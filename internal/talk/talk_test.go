package talk

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/catalog"
	"sixmile/internal/stat"
)

// said is a point in English.
func said(p Point) string { return catalog.English().Count("talk."+p.Key, p.N, p.Args...) }

func byID(points []Point, id string) (Point, bool) {
	for _, p := range points {
		if p.ID == id {
			return p, true
		}
	}
	return Point{}, false
}

// wilson is the score interval by its definition and not by its formula: the
// shares p for which the deviate of x under p, (x/n - p) / √(p(1-p)/n), is within
// 1.95996 of zero. Found by halving.
func wilson(x, n int) (low, high float64) {
	const z = 1.959963984540054
	share := float64(x) / float64(n)
	inside := func(p float64) bool { return math.Abs(share-p) <= z*math.Sqrt(p*(1-p)/float64(n)) }
	edge := func(out, in float64) float64 {
		for range 60 {
			if mid := (out + in) / 2; inside(mid) {
				in = mid
			} else {
				out = mid
			}
		}
		return in
	}
	low, high = 0, 1
	if x > 0 {
		low = edge(0, share)
	}
	if x < n {
		high = edge(1, share)
	}
	return low, high
}

func shareOf(x, n int) Share {
	i, err := stat.Wilson(x, n, stat.Confidence)
	if err != nil {
		return Share{}
	}
	return Share{N: x, Of: n, Interval: i}
}

// claims is what English words say of a share, written down from the words alone.
var claims = map[string]func(low, high float64) bool{
	"Nearly all bags had eggs":               func(l, _ float64) bool { return l > .9 },
	"More than three bags in four had eggs":  func(l, _ float64) bool { return l > .75 },
	"More than two bags in three had eggs":   func(l, _ float64) bool { return l > 2./3 },
	"About half of the bags had eggs":        func(l, h float64) bool { return l > .4 && h < .6 },
	"More than half of the bags had eggs":    func(l, _ float64) bool { return l > .5 },
	"Less than half of the bags had eggs":    func(_, h float64) bool { return h < .5 },
	"More than two bags in five had eggs":    func(l, _ float64) bool { return l > .4 },
	"More than one bag in four had eggs":     func(l, _ float64) bool { return l > .25 },
	"More than one bag in ten had eggs":      func(l, _ float64) bool { return l > .1 },
	"Fewer than one bag in three had eggs":   func(_, h float64) bool { return h < 1./3 },
	"Fewer than one bag in four had eggs":    func(_, h float64) bool { return h < .25 },
	"Fewer than one bag in ten had eggs":     func(_, h float64) bool { return h < .1 },
	"That is too few bags to say more":       func(l, h float64) bool { return true },
	"One bag cannot tell how common that is": func(l, h float64) bool { return true },
	"One bag tells next to nothing":          func(l, h float64) bool { return true },
	"bags like them could still have some":   func(l, _ float64) bool { return l == 0 },
}

var between = regexp.MustCompile(`between (\d+) and (\d+) in a hundred`)

// No sentence about a share contradicts its interval, worked out by another way:
// its words hold for the whole interval and its numbers enclose it, no wider than
// to the next hundredth.
func TestNoSentenceContradictsItsInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5000).Draw(t, "n")
		if rapid.Bool().Draw(t, "few") {
			n = rapid.IntRange(1, 60).Draw(t, "few bags")
		}
		x := rapid.IntRange(0, n).Draw(t, "x")
		p, ok := byID(Points(Facts{Bags: n, Share: shareOf(x, n)}), "share")
		require.True(t, ok)
		text := said(p)
		low, high := wilson(x, n)
		held := 0
		for words, claim := range claims {
			if strings.Contains(text, words) {
				held++
				require.True(t, claim(low, high), "%d of %d, %.4f to %.4f: %s", x, n, low, high, text)
			}
		}
		require.Equal(t, 1, held, text)
		encloses(t, text, low, high)
	})
}

type tester interface {
	require.TestingT
	Helper()
}

// encloses checks the printed numbers of a sentence against an interval.
func encloses(t tester, text string, low, high float64) {
	t.Helper()
	m := between.FindStringSubmatch(text)
	if m == nil {
		return
	}
	a, _ := strconv.ParseFloat(m[1], 64)
	b, _ := strconv.ParseFloat(m[2], 64)
	require.True(t, a <= 100*low+1e-6 && a > 100*low-1-1e-6, "%s: from %.5f", text, low)
	require.True(t, b >= 100*high-1e-6 && b < 100*high+1+1e-6, "%s: to %.5f", text, high)
}

// The same for the top level.
func TestTopEnclosesItsInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 500).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		p, ok := byID(Points(Facts{Bags: n, Top: "high", AtTop: shareOf(x, n)}), "top")
		require.Equal(t, x > 0, ok)
		if ok {
			low, high := wilson(x, n)
			require.Regexp(t, between, said(p))
			encloses(t, said(p), low, high)
		}
	})
}

func differenceOf(x1, n1, x2, n2 int) Difference {
	i, err := stat.Newcombe(x1, n1, x2, n2, stat.Confidence)
	if err != nil {
		panic(err)
	}
	low, high := outward(i)
	return Difference{Here: shareOf(x1, n1), There: shareOf(x2, n2), Low: low, High: high}
}

// A comparison says more or fewer only where Newcombe's interval, put together
// here from the intervals by definition, is wholly on that side.
func TestComparisonsFollowTheirInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) (x, n int) {
			n = rapid.IntRange(1, 300).Draw(t, name)
			return rapid.IntRange(0, n).Draw(t, name+" finds"), n
		}
		x1, n1 := draw("here")
		x2, n2 := draw("there")
		l1, u1 := wilson(x1, n1)
		l2, u2 := wilson(x2, n2)
		p1, p2 := float64(x1)/float64(n1), float64(x2)/float64(n2)
		low := p1 - p2 - math.Hypot(p1-l1, u2-p2)
		high := p1 - p2 + math.Hypot(u1-p1, p2-l2)
		d := differenceOf(x1, n1, x2, n2)
		points := Points(Facts{Bags: n1, State: "Aldermark", Rest: &d, Trend: &Trend{Difference: d, Townships: 3, Earlier: "January 2025"}})
		enough := n1 >= CompareBags && n2 >= CompareBags
		for _, id := range []string{"rest", "trend"} {
			p, ok := byID(points, id)
			require.Equal(t, enough, ok)
			if !ok {
				continue
			}
			switch text := said(p); {
			case strings.Contains(text, "cannot"):
				require.True(t, low < .01+1e-6 && high > -.01-1e-6, "%.4f to %.4f: %s", low, high, text)
			case strings.Contains(text, "fewer"):
				require.Less(t, high, 0.0, text)
			default:
				require.Contains(t, text, "more")
				require.Greater(t, low, 0.0, text)
			}
		}
		if p, ok := byID(points, "rest"); ok && !strings.HasSuffix(p.Key, "open") {
			n := regexp.MustCompile(`likely (\d+) to (\d+)`).FindStringSubmatch(said(p))
			a, _ := strconv.ParseFloat(n[1], 64)
			b, _ := strconv.ParseFloat(n[2], 64)
			near, far := math.Min(math.Abs(low), math.Abs(high)), math.Max(math.Abs(low), math.Abs(high))
			require.LessOrEqual(t, a, 100*near+1e-6)
			require.GreaterOrEqual(t, b, 100*far-1e-6)
			require.Less(t, a, b)
		}
	})
}

// Every form of every rule has a sentence, and no two points have the same id.
func TestEveryFormHasItsSentence(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range rules {
		require.False(t, seen[r.id], r.id)
		seen[r.id] = true
	}
	rapid.Check(t, func(t *rapid.T) {
		points := Points(drawFacts(t))
		require.LessOrEqual(t, len(points), Most)
		ids := map[string]bool{}
		for _, p := range points {
			require.True(t, seen[p.ID] && !ids[p.ID], p.ID)
			ids[p.ID] = true
			text := said(p)
			require.NotContains(t, text, "[talk.", "no such sentence")
			require.NotRegexp(t, `\{[a-z]+\}`, text, "something was not filled in")
			require.NotRegexp(t, `-\d`, text, "no negative numbers in a talk")
			require.Regexp(t, `[.”]$`, text)
		}
	})
	for _, s := range sizes {
		require.True(t, catalog.English().Has("talk.share."+s.key), s.key)
	}
}

func drawFacts(t *rapid.T) Facts {
	small := func(name string, most int) int { return rapid.IntRange(0, most).Draw(t, name) }
	word := func(name string) string { return rapid.SampledFrom([]string{"", "moderate"}).Draw(t, name) }
	share := func(name string) Share {
		n := small(name, 200)
		if n == 0 {
			return Share{}
		}
		return shareOf(small(name+" finds", n), n)
	}
	f := Facts{County: "Plover County", State: "Aldermark", Edition: word("last map"), Townships: small("townships", 22),
		Bags: small("bags", 300), Unconfirmed: small("unconfirmed", 5), Share: share("share"),
		Highest: word("highest"), HighestAt: word("at"), AtLeast: rapid.Bool().Draw(t, "at least"),
		Typical: word("typical"), TypicalNone: rapid.Bool().Draw(t, "none typical"), Top: "high", AtTop: share("top"),
		FirstFinds: small("first", 3), FirstFindsAt: "Gant", Neighbors: small("neighbors", 4), StateCounties: small("counties", 12),
		Missed: small("missed", 300)}
	f.Shown = small("shown", f.Townships)
	f.WithFinds = small("with finds", f.Shown)
	f.NeighborsWithFinds, f.StateWithFinds = small("neighbors found", f.Neighbors), small("state found", f.StateCounties)
	if rapid.Bool().Draw(t, "fall") {
		f.Fall = &Fall{Year: "2026", Bags: 25, Finds: small("fall finds", 25), Few: rapid.Bool().Draw(t, "few")}
	}
	if rapid.Bool().Draw(t, "part") {
		f.Part = &Part{"the north", "the south", 5, 6, 1, 7}
	}
	if a, b := share("rest here"), share("rest there"); a.Of > 0 && b.Of > 0 {
		d := differenceOf(a.N, a.Of, b.N, b.Of)
		f.Rest, f.Trend = &d, &Trend{Difference: d, Townships: 3, Earlier: "January 2025"}
	}
	if rapid.Bool().Draw(t, "bags") {
		f.Bagged = "Free bags: 12 Main Street, until November 20, 2026."
	}
	return f
}
