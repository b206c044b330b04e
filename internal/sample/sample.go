// Package sample holds the rules of the form: what a visit says about its bags,
// and what of it may be stored. There is no field for a name, a phone number, a
// coordinate, a clock time or free text, so none can be stored.
package sample

import (
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/place"
)

// Standing is the one tap that tells farms apart over the years (release rule 1).
type Standing int

const (
	// Already: this farm has sent bags this fall already, or did not say.
	Already Standing = iota
	// Earlier: it sent bags in an earlier fall, none yet this fall.
	Earlier
	// FirstEver: these are the first bags ever from this farm.
	FirstEver
)

// Visit is one sending of the form.
type Visit struct {
	Token   Token
	Senders []Sender
}

// Sender is the part of a visit that belongs to one grower: an agronomist's
// visit has several, set apart by "next grower".
type Sender struct {
	Standing Standing
	Bags     []Bag
}

// Bag is what the form says of one bag.
type Bag struct {
	Code    bag.Code
	Place   place.ID // a township, or the county where the township is not said
	Season  int      // the fall's year
	Day     time.Time
	Answers Answers
}

// Answers are the closed questions of the form; empty means not said.
type Answers struct {
	Harvest    string `json:"harvest,omitempty"`
	Crop       string `json:"crop,omitempty"`
	NextCrop   string `json:"next_crop,omitempty"`
	Resistance string `json:"resistance,omitempty"`
	CropBefore string `json:"crop_before,omitempty"`
	CropTwo    string `json:"crop_two_before,omitempty"`
	Tillage    string `json:"tillage,omitempty"`
	Texture    string `json:"texture,omitempty"`
	PH         string `json:"ph,omitempty"`
	Acres      string `json:"acres,omitempty"`
}

// The choices of the closed questions, in the order the form shows them. The
// catalog has a sentence for each under "choice.".
var (
	Harvests    = []string{"before", "after"}
	Crops       = []string{"soybean", "corn", "wheat", "small_grain", "dry_bean", "sugar_beet", "alfalfa", "sunflower", "canola", "potato", "other", "fallow"}
	Resistances = []string{"pi88788", "peking", "other_source", "susceptible", "unknown"}
	Tillages    = []string{"no_till", "strip_till", "reduced", "full"}
	Textures    = []string{"sand", "loam", "silt", "clay"}
	PHs         = []string{"under6", "6to7", "7to75", "75to8", "over8"}
	Acreses     = []string{"under40", "40to80", "80to160", "over160"}
)

// Season is a program year: the fall's year, and the days on which soil may
// have been pulled. Spring bags belong to the fall before.
type Season struct {
	Year          int
	Opens, Closes time.Time // inclusive
}

// SeasonOf finds the season of a day.
func SeasonOf(day time.Time, seasons []Season) (Season, bool) {
	for _, s := range seasons {
		if !day.Before(s.Opens) && !day.After(s.Closes) {
			return s, true
		}
	}
	return Season{}, false
}

// Answer is what a sender may read about one bag.
type Answer struct {
	Season   int
	County   place.ID
	Received bool // the soil has reached the lab
	Held     bool // the office has to settle the code first
	Result   *Result
	// Changed: a result that was given before has been corrected. With no Result
	// the new one is still being looked over.
	Changed bool
	Follow  bag.Code // the free follow-up bag that waits for this sender; empty for none
}

// Result is a count as the lab saw it: eggs per 100 cm³ of soil with 95 %
// limits, where they are known.
type Result struct {
	Kind      string // counted, density, class
	Eggs      int
	Density   float64
	Low, High float64
	Limits    bool
	Cyst      bool
	Juveniles bool
	Method    int
	LimitsBy  string // how the limits came about, a key of assay's; empty when they are not known
}
