package edition

import "sixmile/internal/place"

// Kind is what a tranche stands for.
type Kind string

// The kinds of tranche, in the order an edition lists them.
const (
	KindTownship  Kind = "township"
	KindDistrict  Kind = "district"  // joined townships: somewhere in these
	KindRemainder Kind = "remainder" // the rest of the county, township not shown
)

func (k Kind) order() int {
	switch k {
	case KindTownship:
		return 0
	case KindDistrict:
		return 1
	}
	return 2
}

// Window says when a tranche's bags were filled, and nothing finer.
type Window struct {
	// ThisFall: every bag is of the fall Through.
	ThisFall bool
	// Through is the last fall that could be in the tranche. It follows from
	// the edition's fall and the kind of tranche, never from the bags.
	Through int
}

// Draft is a tranche before its results are counted into classes. It is for
// the office only.
type Draft struct {
	County  place.ID
	Kind    Kind
	Places  []place.ID // the township; all townships of the district; the county
	Senders int        // surely different senders, at least Floor
	Floor   int        // the k it was gathered under
	Window  Window
	Members []SampleID // in order of their random numbers, which means nothing
	Joins   []Join     // recalled tranches that come out again with it; Rejoin fills them in
}

// Reason is why results wait.
type Reason string

// The reasons. Those with District and County say why the results could not go
// out with their district or with the rest of the county either.
const (
	Uncounted         Reason = "uncounted"          // a bag received by the cut-off has no result yet
	TooFewSenders     Reason = "too_few_senders"    // under k
	Dominance         Reason = "dominance"          // one or two senders sent nearly all the bags
	NoGrouping        Reason = "no_grouping"        // past results of unknown senders: remainder only
	CountyOnly        Reason = "county_only"        // township not known: remainder only
	DistrictPatience  Reason = "district_patience"  // not waited long enough for the district
	DistrictTooFew    Reason = "district_too_few"   // the district's senders are under k
	DistrictDominance Reason = "district_dominance" // the same of all that its district would release
	DistrictShown     Reason = "district_shown"     // under MinBlankTownships without a tranche of their own
	CountyPatience    Reason = "county_patience"    // not waited long enough for the remainder
	CountyUncounted   Reason = "county_uncounted"   // a county-only bag received by the cut-off has no result yet
	CountyTooFew      Reason = "county_too_few"     // the remainder's senders are under k
	CountyDominance   Reason = "county_dominance"   // the same of all that the remainder would release
	CountyShown       Reason = "county_shown"       // too few townships it could come from
)

// Lack is what keeps a place's results waiting. It is for the office only.
type Lack struct {
	Place     place.ID // a township, or the county for county-only bags
	County    place.ID
	Waiting   int // results that wait
	Uncounted int // bags received by the cut-off and not counted
	Senders   int // surely different senders among the waiting results
	Reasons   []Reason
}

// Plan is what an edition will release, and what waits on.
type Plan struct {
	Season   int
	Tranches []Draft // by county, kind and place
	Waiting  []Lack  // by county and place
	Blank    []Blank // recalled tranches that stay away; Rejoin fills them in
}
