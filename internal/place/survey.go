package place

import (
	"fmt"
	"strconv"
	"strings"
)

// Survey names a surveyed township: all that is kept of a legal description.
// It has no room for a section or a quarter, so neither can be stored.
type Survey struct {
	Township, Range Tier
	NorthSouth      Side // of the base line; NotSaid where the description does not say
	EastWest        Side // of the meridian; NotSaid where the description does not say
	Meridian        Meridian
}

// Tier is the number of a township or a range, counted in quarters: half and
// quarter townships exist, such as 58½, where surveys did not meet.
type Tier uint16

// Whole is the tier of a whole number.
func Whole(n int) Tier { return Tier(4 * n) }

func (t Tier) String() string {
	return strconv.Itoa(int(t/4)) + [...]string{"", "¼", "½", "¾"}[t%4]
}

// maxTier is well beyond the townships and ranges there are: 168 north is the
// highest township of Minnesota (handbook section 12), and the ranges west of
// the fifth principal meridian end before 110 (from memory).
const maxTier = 199

func (t Tier) possible() bool { return t >= Whole(1) && t <= Whole(maxTier) }

// Side is a direction from a base line or a meridian.
type Side byte

// The sides.
const (
	NotSaid Side = 0
	North   Side = 'N'
	South   Side = 'S'
	East    Side = 'E'
	West    Side = 'W'
)

// ParseSide reads what String wrote.
func ParseSide(s string) (Side, error) {
	switch s {
	case "":
		return NotSaid, nil
	case "N", "S", "E", "W":
		return Side(s[0]), nil
	}
	return NotSaid, fmt.Errorf("place: no side is called %q", s)
}

func (s Side) String() string {
	if s == NotSaid {
		return ""
	}
	return string(rune(s))
}

// String writes the township as people do, and ParseSurvey reads it again:
// "T21N R8E", with the meridian, where it is known, behind a comma.
func (s Survey) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "T%s%s R%s%s", s.Township, s.NorthSouth, s.Range, s.EastWest)
	if s.Meridian != 0 {
		b.WriteString(", " + s.Meridian.String())
	}
	return b.String()
}

// Sided tells whether both directions are said. The meridian need not be:
// most programs have one.
func (s Survey) Sided() bool { return s.NorthSouth != NotSaid && s.EastWest != NotSaid }

// Fits tells whether what s says is true of the township t. What either does
// not say contradicts nothing, so several townships may fit: then somebody has
// to be asked.
func (s Survey) Fits(t Survey) bool {
	side := func(a, b Side) bool { return a == b || a == NotSaid || b == NotSaid }
	return s.Township == t.Township && s.Range == t.Range &&
		side(s.NorthSouth, t.NorthSouth) && side(s.EastWest, t.EastWest) &&
		(s.Meridian == t.Meridian || s.Meridian == 0 || t.Meridian == 0)
}
