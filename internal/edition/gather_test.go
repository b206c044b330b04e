package edition_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// say writes a plan down briefly: tranches, then what waits.
func say(p edition.Plan) (tranches, waiting []string) {
	for _, d := range p.Tranches {
		window := "upto"
		if d.Window.ThisFall {
			window = "fall"
		}
		tranches = append(tranches, fmt.Sprintf("%s %v: %d senders, %d bags, %s %d",
			d.Kind, d.Places, d.Senders, len(d.Members), window, d.Window.Through))
	}
	for _, l := range p.Waiting {
		var why []string
		for _, r := range l.Reasons {
			why = append(why, string(r))
		}
		waiting = append(waiting, fmt.Sprintf("%d: %d bags, %d senders, %d uncounted, %s",
			l.Place, l.Waiting, l.Senders, l.Uncounted, strings.Join(why, " ")))
	}
	return tranches, waiting
}

// old is three senders over two townships, as of fall season.
func old(season int) *bags {
	return new(bags).add(1, 1, season, earlier, 1).add(1, 2, season, earlier, 1).add(2, 3, season, earlier, 1)
}

func owned(upto int, towns ...int) edition.History {
	h := edition.History{Own: map[place.ID]int{}}
	for _, n := range towns {
		h.Own[township(1, n)] = upto
	}
	return h
}

func TestGather(t *testing.T) {
	const district = "district [101 102 103 104 105 106]: 3 senders, 3 bags, upto 2024"
	const rest = "remainder [1]: 3 senders, 3 bags, upto 2022"
	for _, c := range []struct {
		name     string
		history  edition.History
		bags     *bags
		tranches []string
		waiting  []string
	}{
		{name: "nothing", bags: new(bags)},
		{name: "township of this fall",
			bags:     new(bags).add(1, 1, 2026, earlier, 1).add(1, 2, 2026, first, 2).add(1, 3, 2026, earlier, 1),
			tranches: []string{"township [101]: 3 senders, 4 bags, fall 2026"}},
		{name: "township of two falls takes all that waits",
			bags:     new(bags).add(1, 1, 2025, earlier, 1).add(1, 2, 2025, earlier, 1).add(1, 3, 2026, first, 1),
			tranches: []string{"township [101]: 3 senders, 3 bags, upto 2026"}},
		{name: "two senders wait",
			bags:    new(bags).add(1, 1, 2026, earlier, 1).add(1, 2, 2026, earlier, 1),
			waiting: []string{"101: 2 bags, 2 senders, 0 uncounted, too_few_senders district_patience county_patience"}},
		{name: "an uncounted bag holds the whole place",
			bags:    new(bags).add(1, 1, 2026, earlier, 1).add(1, 2, 2026, first, 2).add(1, 3, 2026, earlier, 1).uncounted(1, 2026),
			waiting: []string{"101: 4 bags, 3 senders, 1 uncounted, uncounted"}},
		{name: "an uncounted bag elsewhere does not",
			bags:     new(bags).add(1, 1, 2026, earlier, 1).add(1, 2, 2026, first, 2).add(1, 3, 2026, earlier, 1).uncounted(2, 2026),
			tranches: []string{"township [101]: 3 senders, 4 bags, fall 2026"},
			waiting:  []string{"102: 0 bags, 0 senders, 1 uncounted, uncounted"}},
		{name: "dominated",
			bags:    new(bags).add(1, 1, 2026, earlier, 6).add(1, 2, 2026, earlier, 1).add(1, 3, 2026, earlier, 1),
			waiting: []string{"101: 8 bags, 3 senders, 0 uncounted, dominance district_patience county_patience"}},
		{name: "newer bags that upset the balance wait alone",
			bags:     new(bags).add(1, 1, 2025, earlier, 1).add(1, 2, 2025, first, 1).add(1, 3, 2025, earlier, 1).add(1, 4, 2026, first, 11),
			tranches: []string{"township [101]: 3 senders, 3 bags, upto 2026"},
			waiting:  []string{"101: 11 bags, 1 senders, 0 uncounted, dominance district_patience county_patience"}},
		{name: "district after two later falls", bags: old(2024), tranches: []string{district}},
		{name: "not after one", bags: old(2025),
			waiting: []string{
				"101: 2 bags, 2 senders, 0 uncounted, too_few_senders district_patience county_patience",
				"102: 1 bags, 1 senders, 0 uncounted, too_few_senders district_patience county_patience"}},
		{name: "only what has waited goes", bags: old(2024).add(1, 4, 2026, earlier, 2),
			tranches: []string{district},
			waiting:  []string{"101: 2 bags, 1 senders, 0 uncounted, too_few_senders district_patience county_patience"}},
		{name: "a sender in two townships counts once in the district",
			bags: new(bags).add(1, 1, 2024, earlier, 1).add(1, 2, 2024, earlier, 1).add(2, 2, 2024, earlier, 1),
			waiting: []string{
				"101: 2 bags, 2 senders, 0 uncounted, too_few_senders district_too_few county_patience",
				"102: 1 bags, 1 senders, 0 uncounted, too_few_senders district_too_few county_patience"}},
		{name: "three townships blank are enough", history: owned(2020, 4, 5, 6), bags: old(2024), tranches: []string{district}},
		{name: "two are not", history: owned(2020, 3, 4, 5, 6), bags: old(2024),
			waiting: []string{
				"101: 2 bags, 2 senders, 0 uncounted, too_few_senders district_shown county_patience",
				"102: 1 bags, 1 senders, 0 uncounted, too_few_senders district_shown county_patience"}},
		{name: "tranches of this edition count as shown", history: owned(2020, 4, 5),
			bags: old(2024).add(3, 11, 2026, first, 1).add(3, 12, 2026, first, 1).add(3, 13, 2026, first, 1).
				add(6, 14, 2026, first, 1).add(6, 15, 2026, first, 1).add(6, 16, 2026, first, 1),
			tranches: []string{"township [103]: 3 senders, 3 bags, fall 2026", "township [106]: 3 senders, 3 bags, fall 2026"},
			waiting: []string{
				"101: 2 bags, 2 senders, 0 uncounted, too_few_senders district_shown county_patience",
				"102: 1 bags, 1 senders, 0 uncounted, too_few_senders district_shown county_patience"}},
		{name: "a blocked township's results do not go with the district", bags: old(2024).uncounted(2, 2026),
			waiting: []string{
				"101: 2 bags, 2 senders, 0 uncounted, too_few_senders district_too_few county_patience",
				"102: 1 bags, 1 senders, 1 uncounted, uncounted"}},
		{name: "remainder after two more falls",
			bags:     new(bags).add(1, 1, 2022, earlier, 1).add(7, 2, 2022, earlier, 1).add(13, 3, 2022, earlier, 1),
			tranches: []string{rest}},
		{name: "county-only results and those without grouping go to the remainder only",
			bags: new(bags).add(0, 1, 2022, earlier, 1).add(1, -1, 2010, already, 4).add(7, 2, 2022, earlier, 1).
				add(13, 3, 2022, earlier, 1),
			tranches: []string{"remainder [1]: 3 senders, 7 bags, upto 2022"}},
		{name: "results without grouping wait for senders", bags: new(bags).add(1, -1, 2010, already, 9),
			waiting: []string{"101: 9 bags, 0 senders, 0 uncounted, no_grouping county_too_few"}},
		{name: "an uncounted county-only bag holds the remainder",
			bags: new(bags).add(0, 1, 2022, earlier, 1).add(0, 2, 2022, earlier, 1).add(0, 3, 2022, earlier, 1).uncounted(0, 2026),
			waiting: []string{
				"1: 3 bags, 3 senders, 1 uncounted, county_only uncounted"}},
		{name: "no remainder when it could be of one district only",
			history: owned(2026, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18),
			bags:    new(bags).add(0, 1, 2022, earlier, 1).add(0, 2, 2022, earlier, 1).add(0, 3, 2022, earlier, 1),
			waiting: []string{"1: 3 bags, 3 senders, 0 uncounted, county_only county_shown"}},
		{name: "districts of this edition empty their townships",
			bags: new(bags).add(0, 1, 2022, earlier, 1).add(0, 2, 2022, earlier, 1).add(0, 3, 2022, earlier, 1).
				add(7, 4, 2024, earlier, 1).add(8, 5, 2024, earlier, 1).add(9, 6, 2024, earlier, 1).
				add(13, 7, 2024, earlier, 1).add(14, 8, 2024, earlier, 1).add(15, 9, 2024, earlier, 1),
			tranches: []string{
				"district [107 108 109 110 111 112]: 3 senders, 3 bags, upto 2024",
				"district [113 114 115 116 117 118]: 3 senders, 3 bags, upto 2024"},
			waiting: []string{"1: 3 bags, 3 senders, 0 uncounted, county_only county_shown"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := edition.Gather(edition.DefaultRules(), land(t, 1, 18), c.history, cut(2026), c.bags.made)
			require.NoError(t, err)
			tranches, waiting := say(p)
			require.Equal(t, c.tranches, tranches)
			require.Equal(t, c.waiting, waiting)

			rand.New(rand.NewPCG(1, 2)).Shuffle(len(c.bags.made), func(i, j int) {
				c.bags.made[i], c.bags.made[j] = c.bags.made[j], c.bags.made[i]
			})
			again, err := edition.Gather(edition.DefaultRules(), land(t, 1, 18), c.history, cut(2026), c.bags.made)
			require.NoError(t, err)
			require.Equal(t, p, again, "the order of the input changed something")
		})
	}
}

// A bag that was not received by the cut-off is not there yet: it neither
// counts nor blocks.
func TestGatherCutoff(t *testing.T) {
	b := new(bags).add(1, 1, 2026, earlier, 1).add(1, 2, 2026, first, 2).add(1, 3, 2026, earlier, 1).uncounted(1, 2026).add(2, 5, 2026, first, 1)
	for i := range b.made[4:] {
		b.made[4+i].Received = false
	}
	p, err := edition.Gather(edition.DefaultRules(), land(t, 1, 18), edition.History{}, cut(2026), b.made)
	require.NoError(t, err)
	tranches, waiting := say(p)
	require.Equal(t, []string{"township [101]: 3 senders, 4 bags, fall 2026"}, tranches)
	require.Empty(t, waiting)
}

func TestGatherRefuses(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2027, time.March, d, 0, 0, 0, 0, time.UTC) }
	weak := edition.DefaultRules()
	weak.K = 2
	for _, c := range []struct {
		name    string
		rules   edition.Rules
		history edition.History
		day     time.Time
		change  func(*edition.Pending)
		want    error
	}{
		{name: "59 days later", history: edition.History{Last: cut(2026).Day}, day: day(15), want: edition.ErrTooSoon},
		{name: "60 days later", history: edition.History{Last: cut(2026).Day}, day: day(16)},
		{name: "back to an earlier fall", history: edition.History{Season: 2027}, day: day(16), want: edition.ErrTooSoon},
		{name: "two senders", rules: weak, day: day(16), want: edition.ErrRules},
		{name: "bag of a later fall", day: day(16), change: func(p *edition.Pending) { p.Season = 2027 }, want: edition.ErrPending},
		{name: "place of another county", day: day(16), change: func(p *edition.Pending) { p.Place = 201 }, want: edition.ErrPending},
		{name: "unknown place", day: day(16), change: func(p *edition.Pending) { p.Place = 5000 }, want: edition.ErrPending},
		{name: "unknown standing", day: day(16), change: func(p *edition.Pending) { p.Standing = 3 }, want: edition.ErrPending},
		{name: "twice", day: day(16), change: func(p *edition.Pending) { p.Sample = sampleID(1) }, want: edition.ErrPending},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := new(bags).add(1, 1, 2026, earlier, 2)
			if c.change != nil {
				c.change(&b.made[1])
			}
			if c.rules == (edition.Rules{}) {
				c.rules = edition.DefaultRules()
			}
			_, err := edition.Gather(c.rules, land(t, 2, 12), c.history, edition.Cut{Season: 2026, Day: c.day}, b.made)
			require.ErrorIs(t, err, c.want)
		})
	}
}

func TestRulesFloors(t *testing.T) {
	require.NoError(t, edition.DefaultRules().Check())
	for name, change := range map[string]func(*edition.Rules){
		"k":          func(r *edition.Rules) { r.K = 2 },
		"patience":   func(r *edition.Rules) { r.Patience = 0 },
		"dominance":  func(r *edition.Rules) { r.DominancePercent = 0 },
		"gap":        func(r *edition.Rules) { r.GapDays = 29 },
		"fall floor": func(r *edition.Rules) { r.FallFloor = 4 },
		"full from":  func(r *edition.Rules) { r.FullClassesFrom = -1 },
	} {
		r := edition.DefaultRules()
		change(&r)
		require.ErrorIs(t, r.Check(), edition.ErrRules, name)
	}
}

func TestGroundRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		counties  []place.ID
		townships []edition.Township
	}{
		"county twice":             {[]place.ID{1, 1}, nil},
		"unknown county":           {[]place.ID{1}, []edition.Township{{ID: 101, County: 2, District: 191}}},
		"township twice":           {[]place.ID{1}, []edition.Township{{101, 1, 191}, {101, 1, 191}}},
		"township is a county":     {[]place.ID{1}, []edition.Township{{1, 1, 191}}},
		"district in two counties": {[]place.ID{1, 2}, []edition.Township{{101, 1, 191}, {201, 2, 191}}},
		"district is a township":   {[]place.ID{1}, []edition.Township{{101, 1, 102}, {102, 1, 191}}},
	} {
		_, err := edition.NewGround(c.counties, c.townships)
		require.ErrorIs(t, err, edition.ErrGround, name)
	}
}
