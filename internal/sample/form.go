package sample

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/fault"
	"sixmile/internal/place"
)

// MaxBags is how many bags one visit may hold: an agronomist's box.
const MaxBags = 60

// Form is a visit as typed: strings only, so that a refused form can be shown
// again with every word kept.
type Form struct {
	Token     string
	Standings []string // one a grower
	Bags      []FormBag
}

// FormBag is one bag's block of the form.
type FormBag struct {
	Grower     int // counts from 0: which part of the visit it belongs to
	Code       string
	County     string // place id
	Township   string // place id, or "county" where only the county is said
	Day        string // 2026-10-31
	Harvest    string
	Crop       string
	NextCrop   string
	Resistance string
	CropBefore string
	CropTwo    string
	Tillage    string
	Texture    string
	PH         string
	Acres      string
}

// CountyOnly is the township choice of a sender who names only the county.
const CountyOnly = "county"

// Ground is what the rules need to know of the world outside the form.
type Ground struct {
	Today   time.Time
	Seasons []Season
	Places  func(place.ID) (place.Place, bool)
}

// Field names a field of the i-th bag, as the form and its messages do.
func Field(i int, name string) string { return fmt.Sprintf("bag.%d.%s", i, name) }

// NewVisit checks a form and makes it a visit. Its error is a *fault.Invalid
// that names every field at fault.
func NewVisit(f Form, g Ground) (Visit, error) {
	var bad fault.Invalid
	v := Visit{}
	token, err := ParseToken(f.Token)
	if err != nil {
		bad.Add("", "send.error.token")
	}
	v.Token = token
	if len(f.Bags) == 0 {
		bad.Add("", "send.error.nobags")
	}
	if len(f.Bags) > MaxBags {
		bad.Add("", "send.error.toomany", "n", MaxBags)
		return Visit{}, bad.OrNil()
	}
	seen := map[bag.Code]bool{}
	for i, in := range f.Bags {
		b := newBag(&bad, i, in, g)
		if b.Code != "" && seen[b.Code] {
			bad.Add(Field(i, "code"), "send.error.twice")
		}
		seen[b.Code] = true
		for len(v.Senders) <= in.Grower && in.Grower < MaxBags {
			v.Senders = append(v.Senders, Sender{Standing: standing(f.Standings, len(v.Senders))})
		}
		if in.Grower < 0 || in.Grower >= len(v.Senders) {
			bad.Add("", "send.error.token")
			continue
		}
		v.Senders[in.Grower].Bags = append(v.Senders[in.Grower].Bags, b)
	}
	v.Senders = slices.DeleteFunc(v.Senders, func(s Sender) bool { return len(s.Bags) == 0 })
	if err := bad.OrNil(); err != nil {
		return Visit{}, err
	}
	return v, nil
}

// standing reads the one tap; no answer counts as "already".
func standing(in []string, grower int) Standing {
	if grower >= len(in) {
		return Already
	}
	switch in[grower] {
	case "first":
		return FirstEver
	case "earlier":
		return Earlier
	}
	return Already
}

func newBag(bad *fault.Invalid, i int, in FormBag, g Ground) Bag {
	b := Bag{
		Code:  code(bad, Field(i, "code"), in.Code),
		Place: where(bad, i, in, g),
	}
	b.Day, b.Season = day(bad, Field(i, "day"), in.Day, g)
	pick := func(name, value string, choices []string) string {
		if value != "" && !slices.Contains(choices, value) {
			bad.Add(Field(i, name), "send.error.choice")
			return ""
		}
		return value
	}
	b.Answers = Answers{
		Harvest:    pick("harvest", in.Harvest, Harvests),
		Crop:       pick("crop", in.Crop, Crops),
		NextCrop:   pick("next_crop", in.NextCrop, Crops),
		Resistance: pick("resistance", in.Resistance, Resistances),
		CropBefore: pick("crop_before", in.CropBefore, Crops),
		CropTwo:    pick("crop_two", in.CropTwo, Crops),
		Tillage:    pick("tillage", in.Tillage, Tillages),
		Texture:    pick("texture", in.Texture, Textures),
		PH:         pick("ph", in.PH, PHs),
		Acres:      pick("acres", in.Acres, Acreses),
	}
	return b
}

// code reads a bag code and says in plain words what is wrong with it.
func code(bad *fault.Invalid, field, in string) bag.Code {
	c, err := bag.Parse(in)
	if err == nil {
		return c
	}
	var pe *bag.ParseError
	switch {
	case !errors.As(err, &pe) || pe.Reason == bag.Check:
		bad.Add(field, "send.error.code.check")
	case pe.Reason == bag.Empty:
		bad.Add(field, "send.error.code.empty")
	case pe.Reason == bag.WrongLength:
		bad.Add(field, "send.error.code.length", "n", pe.Count)
	case pe.LookAlike():
		bad.Add(field, "send.error.code.lookalike", "place", pe.Place)
	default:
		bad.Add(field, "send.error.code.letter", "place", pe.Place)
	}
	return ""
}

// where reads the place: a township of the chosen county, or the county alone.
func where(bad *fault.Invalid, i int, in FormBag, g Ground) place.ID {
	county, ok := lookup(g, in.County, place.County)
	if !ok {
		bad.Add(Field(i, "county"), "send.error.county")
		return 0
	}
	switch in.Township {
	case "":
		bad.Add(Field(i, "township"), "send.error.township")
		return 0
	case CountyOnly:
		return county.ID
	}
	township, ok := lookup(g, in.Township, place.Township)
	if !ok || township.County != county.ID {
		bad.Add(Field(i, "township"), "send.error.othercounty", "county", county.Name)
		return 0
	}
	return township.ID
}

func lookup(g Ground, id string, kind place.Kind) (place.Place, bool) {
	n, err := strconv.ParseInt(id, 10, 32)
	if err != nil {
		return place.Place{}, false
	}
	p, ok := g.Places(place.ID(n))
	return p, ok && p.Kind == kind
}

// day reads the day on which the soil was pulled, and finds its season.
func day(bad *fault.Invalid, field, in string, g Ground) (time.Time, int) {
	in = strings.TrimSpace(in)
	if in == "" {
		bad.Add(field, "send.error.day.empty")
		return time.Time{}, 0
	}
	d, err := ParseDay(in)
	if err != nil {
		bad.Add(field, "send.error.day.format")
		return time.Time{}, 0
	}
	if d.After(g.Today) {
		bad.Add(field, "send.error.day.future")
		return time.Time{}, 0
	}
	s, ok := SeasonOf(d, g.Seasons)
	if !ok {
		bad.Add(field, "send.error.day.season")
		return time.Time{}, 0
	}
	return d, s.Year
}

// ParseDay reads a day as browsers send it (2026-10-31) or as people write it
// in the United States (10/31/2026, 10/31/26). The day is at UTC midnight.
func ParseDay(in string) (time.Time, error) {
	for _, layout := range []string{"2006-01-02", "1/2/2006", "1-2-2006", "1/2/06", "1-2-06"} {
		if d, err := time.Parse(layout, strings.TrimSpace(in)); err == nil {
			return d, nil
		}
	}
	return time.Time{}, errors.New("sample: not a day")
}
