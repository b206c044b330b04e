package talk

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The rules at their edges. With all of n finds Wilson's lower end is n / (n + z²)
// and with half of them the ends are half ± z / (2 √(n + z²)), z² = 3.8415: the
// numbers of bags below are those between which a word changes, worked by hand.
func TestShareWordsAtTheirEdges(t *testing.T) {
	for _, tt := range []struct {
		x, n int
		want string
	}{
		{0, 0, ""},
		{0, 1, "share.none"},
		{0, 400, "share.none"},
		{1, 1, "share.open"}, {4, 4, "share.open"}, // under ShareBags
		{5, 5, "share.morehalf"},        // 0.566
		{7, 7, "share.morehalf"},        // 7/10.84 = 0.6457
		{8, 8, "share.twothirds"},       // 8/11.84 = 0.6756
		{11, 11, "share.twothirds"},     // 11/14.84 = 0.7412
		{12, 12, "share.threequarters"}, // 12/15.84 = 0.7575
		{34, 34, "share.threequarters"}, // 34/37.84 = 0.8985
		{35, 35, "share.nearlyall"},     // 35/38.84 = 0.9011
		{46, 92, "share.morequarter"},   // ± 0.1001: not "about half"
		{47, 94, "share.half"},          // ± 0.0991
		{3, 6, "share.moretenth"},       // 0.188 to 0.812
		{1, 5, "share.open"},            // 0.036 to 0.624
		{57, 100, "share.twofifths"},    // 0.472 to 0.663
		{60, 100, "share.morehalf"},     // 0.502 to 0.691
		{40, 100, "share.lesshalf"},     // 0.309 to 0.498
		{1, 1000, "share.fewtenth"},
	} {
		p, ok := byID(Points(Facts{Bags: tt.n, Share: shareOf(tt.x, tt.n)}), "share")
		require.Equal(t, tt.want != "", ok, "%d of %d", tt.x, tt.n)
		require.Equal(t, tt.want, p.Key, "%d of %d", tt.x, tt.n)
	}
}

// Each rule just on either side of what it asks for.
func TestRulesAtTheirEdges(t *testing.T) {
	some := Facts{County: "Plover County", State: "Aldermark", Townships: 22, Shown: 6, WithFinds: 2, Bags: 40,
		Share: shareOf(12, 38), Edition: "January 2025", Missed: 192}
	with := func(change func(*Facts)) Facts {
		f := some
		change(&f)
		return f
	}
	nine, ten := shareOf(5, 9), shareOf(5, 10)
	for name, tt := range map[string]struct {
		facts Facts
		id    string
		key   string // "" for nothing said
	}{
		"no bags":                 {Facts{}, "nofigures", "nofigures"},
		"a bag":                   {Facts{Bags: 1}, "nofigures", ""},
		"no township shown":       {with(func(f *Facts) { f.Shown = 0 }), "townships", ""},
		"none of them":            {with(func(f *Facts) { f.WithFinds = 0 }), "townships", "townships.none"},
		"one of them":             {with(func(f *Facts) { f.WithFinds = 1 }), "townships", "townships"},
		"all but one":             {with(func(f *Facts) { f.WithFinds = 5 }), "townships", "townships"},
		"all of them":             {with(func(f *Facts) { f.WithFinds = 6 }), "townships", "townships.all"},
		"no level":                {some, "highest", ""},
		"a level nowhere":         {with(func(f *Facts) { f.Highest = "high" }), "highest", ""},
		"a level":                 {with(func(f *Facts) { f.Highest, f.HighestAt = "high", "Gant" }), "highest", "highest"},
		"at least a level":        {with(func(f *Facts) { f.Highest, f.HighestAt, f.AtLeast = "high", "Gant", true }), "highest", "highest.atleast"},
		"no first find":           {some, "first", ""},
		"a first find":            {with(func(f *Facts) { f.FirstFinds = 1 }), "first", "first"},
		"first map":               {with(func(f *Facts) { f.FirstFinds, f.Edition = 1, "" }), "first", ""},
		"no clear part":           {some, "part", ""},
		"fall not told":           {some, "fall", ""},
		"fall none":               {with(func(f *Facts) { f.Fall = &Fall{Bags: 10} }), "fall", "fall.none"},
		"fall few":                {with(func(f *Facts) { f.Fall = &Fall{Bags: 10, Finds: 5, Few: true} }), "fall", "fall.few"},
		"fall":                    {with(func(f *Facts) { f.Fall = &Fall{Bags: 10, Finds: 10} }), "fall", "fall"},
		"nine bags":               {with(func(f *Facts) { f.Typical, f.Bags = "low", 9 }), "typical", ""},
		"ten bags":                {with(func(f *Facts) { f.Typical, f.Bags = "low", 10 }), "typical", "typical"},
		"typical is none":         {with(func(f *Facts) { f.Typical, f.TypicalNone = "none found", true }), "typical", "typical.none"},
		"typical not known":       {some, "typical", ""},
		"none at the top":         {with(func(f *Facts) { f.AtTop = shareOf(0, 40) }), "top", ""},
		"one at the top":          {with(func(f *Facts) { f.AtTop = shareOf(1, 40) }), "top", "top"},
		"nine here":               {with(func(f *Facts) { f.Rest = &Difference{Here: nine, There: ten} }), "rest", ""},
		"nine there":              {with(func(f *Facts) { f.Rest = &Difference{Here: ten, There: nine} }), "rest", ""},
		"a hundredth more":        {with(func(f *Facts) { f.Rest = &Difference{Here: ten, There: ten, Low: 1, High: 40} }), "rest", "rest.more"},
		"hardly more":             {with(func(f *Facts) { f.Rest = &Difference{Here: ten, There: ten, Low: 0, High: 40} }), "rest", "rest.open"},
		"a hundredth fewer":       {with(func(f *Facts) { f.Rest = &Difference{Here: ten, There: ten, Low: -40, High: -1} }), "rest", "rest.fewer"},
		"hardly fewer":            {with(func(f *Facts) { f.Rest = &Difference{Here: ten, There: ten, Low: -40, High: 0} }), "rest", "rest.open"},
		"trend of nine":           {with(func(f *Facts) { f.Trend = &Trend{Difference: Difference{Here: nine, There: ten}} }), "trend", ""},
		"trend":                   {with(func(f *Facts) { f.Trend = &Trend{Difference: Difference{Here: ten, There: ten}} }), "trend", "trend.open"},
		"state, with bags here":   {with(func(f *Facts) { f.StateCounties = 3 }), "statewide", ""},
		"state, without":          {Facts{StateCounties: 3, StateWithFinds: 1}, "statewide", "statewide"},
		"state, with none":        {Facts{StateCounties: 3}, "statewide", "statewide.none"},
		"no state either":         {Facts{}, "statewide", ""},
		"no neighbors":            {some, "neighbors", ""},
		"a neighbor with none":    {with(func(f *Facts) { f.Neighbors = 1 }), "neighbors", "neighbors.none"},
		"a neighbor":              {with(func(f *Facts) { f.Neighbors, f.NeighborsWithFinds = 1, 1 }), "neighbors", "neighbors"},
		"every bag sure":          {some, "unconfirmed", ""},
		"one unconfirmed":         {with(func(f *Facts) { f.Unconfirmed = 1 }), "unconfirmed", "unconfirmed"},
		"no bag without eggs":     {with(func(f *Facts) { f.Share = shareOf(5, 5) }), "missed", ""},
		"one bag without eggs":    {with(func(f *Facts) { f.Share = shareOf(4, 5) }), "missed", "missed"},
		"method not known":        {with(func(f *Facts) { f.Missed = 0 }), "missed", ""},
		"no blank township":       {with(func(f *Facts) { f.Shown = 22 }), "blank", ""},
		"a blank township":        {with(func(f *Facts) { f.Shown = 21 }), "blank", "blank"},
		"all blank":               {with(func(f *Facts) { f.Shown = 0 }), "blank", "blank.none"},
		"volunteers without bags": {Facts{}, "volunteers", ""},
		"volunteers":              {some, "volunteers", "volunteers"},
		"no office":               {some, "bags", ""},
		"an office":               {with(func(f *Facts) { f.Bagged = "At 12 Main Street." }), "bags", "bags"},
	} {
		t.Run(name, func(t *testing.T) {
			p, ok := byID(Points(tt.facts), tt.id)
			require.Equal(t, tt.key != "", ok)
			require.Equal(t, tt.key, p.Key)
		})
	}
}

// Eight to twelve: a county with a township on the map, an office and a method has
// eight, and one with everything has twelve, the most important.
func TestEightToTwelve(t *testing.T) {
	little := Facts{County: "Plover County", Townships: 22, Shown: 1, Bags: 3, Share: shareOf(0, 3), Missed: 192, Bagged: "At 12 Main Street."}
	require.Equal(t, "townships,share,missed,blank,hidden,volunteers,rotate,clean,bags", IDs(Points(little)))
	require.Equal(t, "nofigures,statewide,neighbors,blank,hidden,rotate,clean,bags",
		IDs(Points(Facts{County: "Osier County", Townships: 22, StateCounties: 9, Neighbors: 3, Missed: 192, Bagged: "At 12 Main Street."})))
	require.Equal(t, "townships,share,highest,first,part,fall,trend,rest,missed,volunteers,rotate,bags", IDs(Points(everything())))
}

func TestChoose(t *testing.T) {
	points := Points(everything())
	require.Equal(t, points, Choose(points, ""))
	require.Equal(t, "share,bags", IDs(Choose(points, "bags,share,nonsense,share")))
	require.Empty(t, Choose(points, "nonsense"))
	require.Equal(t, points, Choose(points, IDs(points)))
}

// everything is a county about which there is too much to say.
func everything() Facts {
	d := differenceOf(40, 80, 100, 400)
	return Facts{County: "Plover County", State: "Aldermark", Edition: "January 2026", Townships: 22, Shown: 14, WithFinds: 9,
		Bags: 120, Unconfirmed: 6, Share: shareOf(66, 114), Fall: &Fall{Year: "2026", Bags: 25, Finds: 10},
		Highest: "high", HighestAt: "Gant and Hask", Typical: "low", Top: "high", AtTop: shareOf(8, 120),
		FirstFinds: 2, FirstFindsAt: "Gant and Mott", Part: &Part{"the south", "the north", 8, 9, 1, 5}, Rest: &d,
		Trend:     &Trend{Difference: differenceOf(12, 30, 10, 28), Townships: 5, Earlier: "January 2026"},
		Neighbors: 4, NeighborsWithFinds: 3, StateCounties: 12, StateWithFinds: 9, Missed: 192,
		Bagged: "Free bags are at 12 Main Street, until November 20, 2026."}
}
