// Package world is a deterministic model of an invented state: its counties
// and townships, its farms, a nematode that entered at one corner and has been
// spreading since, and thirteen falls of volunteer soil sampling.
//
// The demo and the measurements are built from it. Nothing in it is real: the
// state lies in the middle of the North Atlantic, and every name was made up.
//
// # What must never leave this package
//
// A farm's number ([FarmID]), a field's true density ([Bag.Truth]) and who
// visited twice are the truth behind the samples. They exist in this model and
// in tests that attack releases with it. A loader hands on only what a grower
// would type and a technician would key: nothing named Truth or Farm may be
// stored, logged or shown.
//
// # Determinism
//
// The land is the same for every seed. The farms, the spread and the sampling
// follow from the seed alone: PCG streams, no clock, no map order. Floating
// point values that carry over from one year to the next are rounded to whole
// eggs, so a last-bit difference between processors does not grow.
package world

import "time"

// Seasons is how many closed falls a world holds; one open fall follows them.
const Seasons = 12

// World is the whole model.
type World struct {
	// Name is the state's name.
	Name string
	// Meridian is the invented principal meridian that the townships are
	// numbered from, as a legal description would name it.
	Meridian string
	// Today is the day the model stops at: late October of the open fall.
	Today time.Time

	Counties  []County   // by code
	Townships []Township // by county code, then north to south, west to east
	Rivers    []River
	Ridges    []Ridge
	Towns     []Town

	// Seasons are the twelve closed falls and the open one, oldest first.
	Seasons []Season

	land  *land
	farms []farm
}

// LonLat is a position in degrees (WGS 84), rounded to seven decimals.
type LonLat struct{ Lon, Lat float64 }

// Ring is a closed ring: its last position repeats its first.
type Ring []LonLat

// Polygon is an outer ring, counter-clockwise. No polygon of this world has
// holes. Neighbors share their vertices exactly.
type Polygon struct{ Outer Ring }

// Town is a point on the map.
type Town struct {
	Name   string
	County string // county code
	At     LonLat
	Seat   bool // the county office is here
}

// Office is where a county hands out bags. It has no telephone: an invented
// number might be somebody's.
type Office struct {
	Address string
	Hours   string
	DropOff string
}

// County is a union of townships.
type County struct {
	Code    string // three digits, leading zeros kept: "001"
	Name    string // without the word County
	Outline Polygon
	Seat    string // name of the town
	Office  Office
}

// Township is one place: the part of a survey township in one county. A survey
// township cut by a county line is two places with one code.
type Township struct {
	Code    string // "T21N R8E"
	Name    string
	County  string // county code
	Outline Polygon
	// Whole says that the outline is a full six-mile square.
	Whole bool
}

// River is a line from its source to its mouth.
type River struct {
	Name string
	Line []LonLat
}

// Ridge is an area of lighter soils with a higher pH.
type Ridge struct {
	Name    string
	Outline Polygon
}

// Season is one fall, with the spring bags that belong to it.
type Season struct {
	Year    int
	Open    bool      // the fall still going on
	Issues  []Issue   // one for each county, by county code
	Bundles []Bundle  // every bundle handed out, used or not, in order of day
	Visits  []Visit   // in order of day
	Closes  time.Time // last day a fall bag is taken at the counter
}

// Issue is how many bags the program gave a county's office for the season.
// At least the bags of its bundles; the rest stay on the shelf.
type Issue struct {
	County string
	Bags   int
}

// Bundle is bags handed to one person together.
type Bundle struct {
	County string // whose counter
	Day    time.Time
	Size   int // 1 to 6
}

// Visit is one trip through the form by one person. An agronomist's visit
// holds several growers, each after a "next grower" divider.
type Visit struct {
	Day     time.Time // the day the form was sent, on or after the last sampling
	Senders []Sender  // one, or more in an agronomist's visit
}

// Sender is one grower's part of a visit.
type Sender struct {
	// Farm is the truth: see the package comment.
	Farm     FarmID
	Standing Standing
	Bags     []Bag // one to twelve
}

// FarmID numbers the farms of the model. It must never be stored or shown.
type FarmID int

// Standing is the one tap that tells new farms from those counted before.
type Standing string

// The answers to "Are these the first bags ever from this farm?".
const (
	Blank   Standing = ""
	First   Standing = "first"
	Earlier Standing = "earlier"
	Already Standing = "already"
)

// BlankShare is the share of senders who leave the question blank.
const BlankShare = 0.06

// Bag is one sampled bag: what the grower wrote, and what the lab saw.
type Bag struct {
	Bundle   int    // index into the season's Bundles
	County   string // county code of the field, not of the counter
	Township string // township code; blank when only the county was named
	Sampled  time.Time
	Harvest  Harvest
	Crop     Crop
	Next     Crop   // blank: not known yet
	Source   Source // resistance source of the last soybean
	Answers  Answers

	// Truth is the field's mean density on the day. See the package comment.
	Truth int // eggs per 100 cm³

	Received time.Time // zero: never arrived, or still on its way
	Counted  time.Time // zero: not counted
	Count    Count     // zero unless counted
}

// Arrived says that the bag reached the lab.
func (b Bag) Arrived() bool { return !b.Received.IsZero() }

// IsCounted says that the lab has counted the bag.
func (b Bag) IsCounted() bool { return !b.Counted.IsZero() }

// Count is what the technician keys.
type Count struct {
	SoilCM3      int  // soil taken from the bag
	SuspensionML int  // the washed sample brought up to
	AliquotML    int  // looked at in all, over Aliquots slides
	Aliquots     int  // slides counted
	Eggs         int  // eggs seen in AliquotML
	Cyst         bool // a cyst was seen on the sieve
}

// Answers are the optional questions; each may be blank.
type Answers struct {
	Before  Crop // last year's crop
	Tillage Tillage
	Texture Texture
	PH      PHBand
	Acres   AcresBand
}

// Harvest says whether the bag was pulled before or after this year's crop
// came off.
type Harvest string

// Harvest answers.
const (
	BeforeHarvest Harvest = "before"
	AfterHarvest  Harvest = "after"
)

// Crop is what a field grew or will grow.
type Crop string

// Crops of the state.
const (
	Soybean   Crop = "soybean"
	Corn      Crop = "corn"
	Wheat     Crop = "wheat"
	DryBean   Crop = "dry_bean"
	SugarBeet Crop = "sugar_beet"
	Alfalfa   Crop = "alfalfa"
	OtherCrop Crop = "other"
)

// Source is the resistance source of the last soybean, as the grower knows it.
type Source string

// Resistance sources.
const (
	PI88788       Source = "pi88788"
	Peking        Source = "peking"
	OtherSource   Source = "other_source"
	Susceptible   Source = "susceptible"
	UnknownSource Source = "unknown"
)

// Tillage is how the field is worked.
type Tillage string

// Tillage answers.
const (
	NoTill   Tillage = "no_till"
	Reduced  Tillage = "reduced"
	FullTill Tillage = "full"
)

// Texture is the field's main soil.
type Texture string

// Texture answers.
const (
	Sandy Texture = "sand"
	Loam  Texture = "loam"
	Clay  Texture = "clay"
)

// PHBand is the last soil test's pH.
type PHBand string

// pH bands.
const (
	PHUnder6 PHBand = "under6"
	PH6      PHBand = "6to7"
	PH7      PHBand = "7to75"
	PH75     PHBand = "75to8"
)

// AcresBand is the area the bag stands for.
type AcresBand string

// Acre bands.
const (
	AcresUnder40 AcresBand = "under40"
	AcresTo80    AcresBand = "40to80"
	AcresTo160   AcresBand = "80to160"
)
