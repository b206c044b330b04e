package press_test

import (
	"fmt"

	"sixmile/internal/atlas"
	"sixmile/internal/press"
)

// Example sentences; those that people get come from the catalog.

var cautions = []string{
	"Results describe the soil in the bag on the day. “None found” is not “free of it.”",
	"This is not a recommendation: follow your state’s current extension guidance, the product label and licensed practice. The label is the law.",
	"Clean soil off equipment before it leaves a field. Soil from out of state is not mailed.",
}

var winter = []string{
	"Plan a year of a crop it cannot feed on where counts are high: a non-host year takes the count down by about half.",
	"Ask for the source of resistance when you order seed, and do not plant the same one every time.",
	"Dry beans are hosts too: kidney about like a susceptible soybean, black moderately resistant.",
	"Wash equipment between fields; it moves with anything that moves soil.",
}

var posterWords = press.PosterWords{
	Title: "Plover County", Subtitle: "Where soybean cyst nematode has been found",
	Facts: []press.Fact{
		{"23 of 35", "townships with figures have finds"}, {"164", "bags with eggs of 412, all falls"},
		{"high", "the highest level: T20N R8E and four more"}, {"3", "first finds since last January"},
	},
	DoHead: "This winter", Do: winter,
	BagsHead: "Free bags", Bags: "At the county office, 4 Mill Street, until the end of November. Two bags a field are enough to begin.",
	Cautions: cautions,
}

var handoutWords = press.HandoutWords{
	Title: "Plover County", Subtitle: "Soybean cyst nematode, map of January 2027",
	Lead: "Eggs were found in 23 of the 35 townships with figures, most of them in the southeast; the northwest is mostly none found.",
	Facts: []string{
		"This fall: about 60 bags, about 25 with eggs.",
		"Highest level: high, in T20N R8E, T21N R8E, T22N R7E and T22N R8E.",
		"First finds since the last map: T19N R5E, T20N R6E.",
		"All falls since 2015: 412 bags, 164 with eggs: 40%, between 35% and 45%.",
		"A field where none was found in one bag may still have it: at 150 eggs per 100 cm³ about one bag in twenty shows none.",
	},
	Back: []press.Section{
		{Head: "What to do this winter", Paras: []string{"Nothing shows above ground until much of the yield is gone. A soil sample in the fall tells."}, List: winter},
		{Head: "The same as the map, in figures", Table: townshipTable(35)},
	},
	Cautions: cautions,
	Foot:     "Edition 12 · K7QF-2M · January 14, 2027. Plover County extension office, example.org",
}

func townshipTable(n int) press.Table {
	t := press.Table{Head: []string{"Township", "Bags", "With eggs", "Highest level", "Falls"}}
	for i := range n {
		t.Rows = append(t.Rows, []string{fmt.Sprintf("T%dN R%dE", 24-i/7, 3+i%7), fmt.Sprint(3 + i*7%30), fmt.Sprint(i * 5 % 12),
			[]string{"none found", "low", "moderate", "high"}[i%4], "2015 to 2026"})
	}
	return t
}

var rootWords = press.RootWords{
	Title:      "Dig a root in July",
	Lead:       "Six weeks after planting, white females show on soybean roots. They are the one sign you can see without a laboratory.",
	Nodule:     "A nodule: large, round, tan to pink. It feeds the plant; leave it be.",
	Female:     "A female: white to yellow, the shape of a lemon, a tenth the size of a nodule",
	Millimeter: "1 mm", Enlarged: "drawn ten times life size", LifeSize: "Life size",
	StepsHead: "How to look",
	Steps: []string{
		"Dig, do not pull: females come off with the fine roots.", "Shake the soil off over the hole, then wash gently in a bucket.",
		"Look with a hand lens at fine roots of five plants, in places where the crop looks good as well as poor.",
		"Seen or not, send a bag of soil in the fall: only a count tells how many.",
	},
	CautionsHead: "Mind", Cautions: append([]string{"Ask before you dig in somebody’s field, and call before you dig near lines."}, cautions...),
}

func answerSlips() []press.AnswerSlip {
	var out []press.AnswerSlip
	for i, m := range []atlas.Mark{
		{Standing: atlas.NoneFound, Of: 3}, {Standing: atlas.Unconfirmed, Of: 3}, {Standing: atlas.Found, Lines: 1, Of: 3}, {Standing: atlas.Found, Lines: 3, Of: 3},
	} {
		out = append(out, press.AnswerSlip{
			Code: fmt.Sprintf("K7QF-2M%d", i), Place: "T20N R8E, Plover County, fall of 2026", Mark: m, Level: "level: " + m.String(),
			Lines: []string{"1,240 eggs per 100 cm³ of soil; a second count of the same bag would likely fall between 900 and 1,700.", "At this level a resistant variety is the usual choice; see your extension office."},
		})
	}
	return out
}

var slipWords = press.SlipWords{Title: "Answers", Head: "Free soil samples for soybean cyst nematode, Plover County extension office", Bag: "Bag", Cautions: cautions}
