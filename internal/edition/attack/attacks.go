package attack

// Attack is one way of trying to learn more than a tranche tells. Run reports
// what it learned, in plain words; nothing is the hoped-for answer.
type Attack struct {
	Name   string
	Reason string
	Run    func(Public) []string
}

// Public is what the attacker has: every edition so far, oldest first, the map
// anybody can buy, and the figures of pages and exports.
type Public struct {
	Editions  []Edition
	Map       Map
	Figures   []Figure  // as drawn today, with everything recalled by now
	Recalls   []Recall  // those by withdrawal included
	Withdrawn []int     // numbers of withdrawn editions
	Copies    []Edition // that readers kept

	// Rounding is the published rule by which a fall figure is rounded, given
	// the number and the least a reader knows it to be. Nil: AboutFive.
	Rounding func(n, atLeast int) int
}

// Map is public knowledge of the land: the district of every township of every
// county.
type Map map[int]map[int]int

// Figure is a number of samples and of finds that some page or file states.
type Figure struct {
	Label    string
	Edition  int // the edition the page was drawn from
	County   int
	Township int // 0: the whole county
	Fall     int // 0: all years; else the one fall
	Samples  int
	Finds    int
}

// All lists the attacks.
func All() []Attack {
	return []Attack{
		{"few", "a tranche of under k senders, or of under three in any program, is about too few people", few},
		{"exact senders", "a tranche that says more of its senders than 'k or more' can tell, with the samples, " +
			"how many senders each blank township of a district has", exactSenders},
		{"sums", "class counts that do not sum to the samples show that something was taken out or put in", sums},
		{"order", "numbers or lines in any order but that of the places could follow when, or what, was counted", order},
		{"chain", "an edition changed after the fact, or two close together, show what one bag changed " +
			"(under thirty days a reader can guess whose bag came in between)", chain},
		{"windows", "a last fall that varies from tranche to tranche follows the bags in it; " +
			"'this fall' may be said, nothing finer", windows},
		{"which township", "joined townships of which all but one or two are known to be empty name the place; " +
			"three must stay possible", whichTownship},
		{"which rest", "the rest of a county that can only be one district, or few townships, names the place; " +
			"five in two districts must stay possible", whichRest},
		{"fall minus map", "a fall figure covers waiting results: less the tranches of the fall, it must leave " +
			"at least five possible numbers of waiting samples and of finds among them", fallMinusMap},
		{"higher than the map", "a highest level above the map's says what a waiting bag held; " +
			"it is told only where many wait, so never where nearly all is on the map", higherThanMap},
		{"recompute", "a figure that is not the sum of whole tranches covers something else too, " +
			"and the difference is it", recompute},
		{"then minus now", "the same figure in two editions, one less the other, is what came in between: " +
			"nothing, or k senders' bags", thenMinusNow},
		{"one of them", "a group that is counted again differs by what was put right: by one result, and it is known " +
			"that this one was wrong, and what it became", oneOfThem},
		{"back again", "a recalled group less the one that it came out in again must be k senders' new results, " +
			"or what was put right is all there is", backAgain},
		{"fenced in", "the same results in many level tables, or in two with cuts close together, fence in single densities", fencedIn},
		{"other results", "two level tables of one group must be of the same results: if not, the one that was corrected shows", otherResults},
		{"fall of a recalled group", "a fall figure less the map, where a group of the fall is recalled, is that group put right",
			fallOfRecalled},
		{"two of one", "an edition that was released, lost and released again differently is two, " +
			"and their difference may be one bag", twoOfOne},
	}
}

// Try runs every attack and returns what was learned, each finding after the
// name of its attack.
func Try(p Public) []string {
	var out []string
	for _, a := range All() {
		for _, finding := range a.Run(p) {
			out = append(out, a.Name+": "+finding)
		}
	}
	return out
}
