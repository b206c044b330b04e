package world

// All names are made up. A test holds the counties and the state against the
// list of US counties and states.

const (
	stateName    = "Fallowmark"
	meridianName = "Sedge Principal Meridian"
	westRiver    = "Sedge River"
	borderRiver  = "Great Orrin River"
	ridgeName    = "Chalkback Ridge"
)

// countyNames are by letter of the plan; a county's first town is its seat.
var countyNames = map[byte]struct {
	name  string
	towns []string
}{
	'A': {"Ottermarch", []string{"Rooksend", "Plovergate", "Isterly"}},
	'B': {"Larkspar", []string{"Amberstile", "Junco", "Vetchbury"}},
	'C': {"Brackwater", []string{"Kilnstead", "Jarrowfen"}},
	'D': {"Tarrowby", []string{"Gosling Ferry", "Whinstone", "Ironseed"}},
	'E': {"Hollinsway", []string{"Quenchford", "Upwillow", "Pipit", "Dellmarsh"}},
	'F': {"Curlewick", []string{"Millwren", "Teasel", "Carrowick"}},
	'G': {"Quillmere", []string{"Saltmarrow", "Embercross", "Bexcombe", "Drumlow"}},
	'H': {"Dunmarrow", []string{"Cloverhithe", "Nightjar", "Fescue"}},
	'I': {"Sedgeholm", []string{"Orchardine", "Heronstile"}},
	'J': {"Elderholt", []string{"Kestrelby", "Oatbarrow", "Mossgate", "Yewbarrel"}},
	'K': {"Gristhaven", []string{"Lindenstow", "Gadwall", "Nettlestow"}},
	'L': {"Farrowick", []string{"Zephyr Mill", "Larchbeck", "Hobbin", "Bittern"}},
}

// Township names join a stem to an ending; no two places of the state share one.
var (
	nameStems = []string{
		"Aldrow", "Brindle", "Cinder", "Dapple", "Ember", "Fennow", "Gannel", "Haspel",
		"Ibbet", "Jessock", "Kettle", "Lorrin", "Marl", "Nettle", "Osk", "Pellow",
		"Quarrel", "Rushel", "Sallow", "Tamsel", "Umber", "Vennel", "Wicket", "Yaffle",
		"Zinnow", "Burdock", "Chervil", "Drover", "Gorse", "Inkle", "Tansy", "Sorrel",
	}
	nameEndings = []string{
		"garth", "mere", "sted", "wold", "combe", "fold", "hythe", "moss",
		" Prairie", " Fork", " Rise", " Bottom", " Bend", " Furlong",
	}
)
