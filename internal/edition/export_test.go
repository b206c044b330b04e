package edition

// Weakness is a mistake put into the gathering, to see that a test catches it.
// It exists in tests only.
type Weakness int

const (
	NoWeakness      Weakness = iota
	NumbersAreFarms          // every sender number counts as a farm, whatever its tap
	NoBalance                // no dominance rule
	ByNumbers                // dominance by sender numbers, not by farms
	AnyDistrict              // a district tranche whatever its townships had
	AnyRemainder             // a remainder wherever k senders wait
)

// GatherWeak is Gather with a mistake.
func GatherWeak(w Weakness, r Rules, g Ground, h History, cut Cut, pending []Pending) (Plan, error) {
	j := rulesAsWritten
	switch w {
	case NumbersAreFarms:
		j.senders, j.balanced = numbers, balancedByNumbers
	case NoBalance:
		j.balanced = func(int, []Pending) bool { return true }
	case ByNumbers:
		j.balanced = balancedByNumbers
	case AnyDistrict:
		j.districtOpen = func(History, district) bool { return true }
	case AnyRemainder:
		j.remainderOpen = func(History, county, int) bool { return true }
	}
	return gatherBy(j, r, g, h, cut, pending)
}

func balancedByNumbers(percent int, samples []Pending) bool {
	bags := make(map[SenderID]int)
	for _, s := range samples {
		if s.Sender != NoSender {
			bags[s.Sender]++
		}
	}
	f := fall{}
	for _, n := range bags {
		f.old = append(f.old, n)
	}
	return balanced(percent, sortFalls([]fall{f}))
}

func numbers(samples []Pending) int {
	seen := make(map[SenderID]bool)
	for _, s := range samples {
		if s.Sender != NoSender {
			seen[s.Sender] = true
		}
	}
	return len(seen)
}

// AmendMistake is a mistake put into errata.
type AmendMistake int

const (
	AmendAny   AmendMistake = iota // whatever was put right
	AmendSwaps                     // results of k senders changed, whatever the tables say
)

// AmendWeak is Amend with a mistake.
func AmendWeak(m AmendMistake, r Rules, ranks Ranks, t Tranche, b Back, was, now func(SampleID) int) (Recount, error) {
	if m == AmendSwaps {
		return Amend(r, ranks, t, b, nil, was, now)
	}
	if _, ok := b.ready(); !ok || len(b.left()) < r.K {
		return Recount{}, ErrErratum
	}
	return recount(t, ranks, b.left(), now)
}
