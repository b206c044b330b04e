package virulence

// Line is one of the seven indicator lines, by its number in an HG type.
type Line int

// The lines.
const (
	Peking   Line = iota + 1 // PI 548402
	PI88788                  // PI 88788
	PI90763                  // PI 90763
	PI437654                 // PI 437654
	PI209332                 // PI 209332
	PI89772                  // PI 89772
	Cloud                    // PI 548316
)

// NumLines is how many lines there are.
const NumLines = 7

// Lines lists the lines by number.
func Lines() []Line {
	return []Line{Peking, PI88788, PI90763, PI437654, PI209332, PI89772, Cloud}
}

// Name is the line's name in print, such as "Peking"; empty for no line.
func (l Line) Name() string { return l.fact().name }

// Accession is the line's number in the germplasm collection, such as
// "PI 548402"; empty for no line.
func (l Line) Accession() string { return l.fact().accession }

type lineFact struct {
	name, accession string
	lead            Line // the line its group goes by; zero for none
}

// fact holds names (University of Minnesota Extension, Table 1; University of
// Wisconsin, MacGuidwin and Smith) and groups: indexes on lines 2, 5 and 7 go
// together, and those on 1, 3 and 6 (PMC2586527). Line 4 stands alone. Each
// group goes by the line that resistant varieties are bred from.
func (l Line) fact() lineFact {
	switch l {
	case Peking:
		return lineFact{"Peking", "PI 548402", 0}
	case PI88788:
		return lineFact{"PI 88788", "PI 88788", 0}
	case PI90763:
		return lineFact{"PI 90763", "PI 90763", Peking}
	case PI437654:
		return lineFact{"PI 437654", "PI 437654", 0}
	case PI209332:
		return lineFact{"PI 209332", "PI 209332", PI88788}
	case PI89772:
		return lineFact{"PI 89772", "PI 89772", Peking}
	case Cloud:
		return lineFact{"Cloud", "PI 548316", PI88788}
	}
	return lineFact{}
}

// Rating says how a line or variety holds against one population (Schmitt and
// Shannon 1992, Crop Sci. 32:275-277, four levels; the numbers as in Ohio State
// University's Verification of SCN resistance, Lindsey and Niblack 2016). It is
// of that population only.
type Rating uint8

// The ratings.
const (
	Resistant             Rating = iota + 1 // FI under 10
	ModeratelyResistant                     // 10 to 30
	ModeratelySusceptible                   // over 30 to 60
	Susceptible                             // over 60
)

// String is the rating's key.
func (r Rating) String() string {
	switch r {
	case Resistant:
		return "resistant"
	case ModeratelyResistant:
		return "moderately_resistant"
	case ModeratelySusceptible:
		return "moderately_susceptible"
	case Susceptible:
		return "susceptible"
	}
	return ""
}

// Rate gives the rating of a female index; zero for one that is negative or no
// number. Sources write "30" and "31" for the foot of moderately susceptible:
// what lies between belongs to it here.
func Rate(index float64) Rating {
	switch {
	case !(index >= 0):
		return 0
	case index < Elevated:
		return Resistant
	case index <= 30:
		return ModeratelyResistant
	case index <= 60:
		return ModeratelySusceptible
	}
	return Susceptible
}
