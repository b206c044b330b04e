package lookahead

// one is a figure that does not vary.
func one(x float64, source string) Figure { return Figure{x, x, x, source} }

const (
	chen      = "Chen, Porter, Reese and Stienstra 2001, Crop Science 41:1843-1849, southern Minnesota 1996-99: mean and range of harvest against planting"
	poromarto = "Poromarto and Nelson 2009, Plant Disease 93:507-511: female index, Lee 74 = 100"
	ours      = "Choice of this program: "
)

// Standard is the set the program starts with. Figures without a publication
// say so in their source.
func Standard() Set {
	return Set{
		Name: "north-central", Version: 1,
		Note: "Published multiplications of southern Minnesota, with what other states have seen since.",
		Figures: map[Key]Figure{
			Winter:      {0.7, 0.92, 1, ours + "a fall count is close to the next spring's in most cases (Ohio State University, C.O.R.N. 2015-34); without a host it cannot rise"},
			WinterWeeds: {1.24, 1.31, 1.38, "Harrison and Dorrance, Ohio State University: purple deadnettle made eggs three- to fivefold in five years; taken a winter at a time"},

			AfterNonHost: {0.23, 0.59, 0.86, chen + ", corn"},
			AfterFallow:  {0.25, 0.66, 0.95, ours + "a little slower than a non-host; a wheat strip had about a third less than fallow (Rocha and others 2021, Frontiers in Plant Science 12:640714)"},
			AfterSoybean: {0.74, 3.3, 9.91, chen + ", susceptible soybean"},

			HatchShare:  one(0.6, ours+"a resistant soybean's roots make more eggs hatch than a non-host's do; no figure was found"),
			After88788:  {0.21, 0.49, 0.73, chen + ", resistant soybean, when PI 88788 was new"},
			Trend88788:  {0, 0.05, 0.09, "Rising on PI 88788 from 2000 to 2015: McCarville and others 2016 (Iowa). The rate is a choice of this program: after 20 years a resistant soybean holds about 2,000 eggs level (common practice)"},
			AfterPeking: {0.21, 0.45, 0.73, ours + "as a new source in " + chen},
			TrendPeking: {0, 0, 0.01, "No rise on Peking from 2000 to 2015: McCarville and others 2016 (Iowa)"},
			After437654: {0.14, 0.36, 0.55, ours + "next to no females grew on it in Minnesota 2007-08 (mean index 0.4), so hatch is what remains"},
			Trend437654: {0, 0, 0.01, ours + "no rise has been published"},

			Key(Kidney):  one(110, poromarto),
			Key(Navy):    one(41, poromarto),
			Key(Pinto):   one(39, poromarto),
			Key(Black):   one(16, poromarto),
			OfGreatNorth: {5, 61, 117, "Not known. Anywhere among the 24 dry beans measured by Poromarto and Nelson 2009 (5 to 117)"},

			VolunteerShare: {0.02, 0.06, 0.2, ours + "a thin stand; no figure was found"},
			UsualDensity:   one(5000, ours+"of the order of the densities in Chen and others 2001 (6,994 and 14,000 before corn)"),
			Crowding:       one(2000, ours+"so that susceptible soybeans level off at a few thousand to tens of thousands (University of Minnesota)"),
			FieldShare:     one(0.5, ours+"no figure was found"),
			BagOfField:     {0.5, 1.06, 2, "Most composites lie within half of the mean: Schmitt, Barker, Noe and Koenning 1990, Journal of Nematology"},

			Tolerance:     {10, 45, 66, "Niblack, Baker and Norton 1992, Plant Disease 76:943-948 (10 to 50); Francl and Dropkin 1986, Plant Disease 70:791-795 (52 to 66)"},
			LeastYield:    {0.35, 0.62, 0.9, ours + "inside losses of up to 30 to 40 % without symptoms and of 5.7 to 35.8 % in the field (Iowa State University; Niblack and others 1992), with droughty sand worse"},
			ToleranceRes:  {150, 450, 900, ours + "a few percent are lost by 800 eggs, where the University of Missouri's egg count recommendations see losses even with resistant varieties"},
			LeastYieldRes: {0.6, 0.84, 0.97, ours + "resistant varieties lose less; how much was not found"},
		},
	}
}
