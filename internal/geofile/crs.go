package geofile

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// EPSG codes that GeoJSON files name in words.
const (
	wgs84 = 4326
	nad83 = 4269
	nad27 = 4267
)

// epsgName finds the code in "EPSG:4269", "urn:ogc:def:crs:EPSG:6.6:4269" and
// "http://www.opengis.net/def/crs/EPSG/0/4269".
var epsgName = regexp.MustCompile(`(?i)EPSG(?:::?|/)(?:[0-9.]*[:/])?([0-9]{4,6})$`)

// CRS is a coordinate system: an EPSG code, or its definition as well-known text
// where the file gives no code.
type CRS struct {
	EPSG int
	WKT  string
}

// Known reports whether anything is said.
func (c CRS) Known() bool { return c.EPSG != 0 || c.WKT != "" }

// String names the system for people.
func (c CRS) String() string {
	if c.EPSG != 0 {
		return "EPSG:" + strconv.Itoa(c.EPSG)
	}
	if m := wktName.FindStringSubmatch(c.WKT); m != nil {
		return m[1]
	}
	return "not said"
}

// wktName finds the name of a system in its definition.
var wktName = regexp.MustCompile(`^\s*[A-Z]+\s*[\[(]\s*"([^"]{1,80})"`)

// wktCode finds the code at the end of a definition.
var wktCode = regexp.MustCompile(`(?i)(?:AUTHORITY|ID)\s*\[\s*"EPSG"\s*,\s*"?([0-9]{4,6})"?\s*\]\s*\]\s*$`)

// IsDegrees reports whether coordinates are known to be longitude and latitude.
func (c CRS) IsDegrees() bool {
	if c.EPSG != 0 {
		return IsGeographic(c.EPSG)
	}
	upper := strings.ToUpper(strings.TrimSpace(c.WKT))
	return strings.HasPrefix(upper, "GEOGCS") || strings.HasPrefix(upper, "GEOGCRS") || strings.HasPrefix(upper, "GEODCRS")
}

// maxWKT is far more than any definition needs.
const maxWKT = 16 << 10

// fromWKT takes a definition, as a .prj file has it.
func fromWKT(text string) (CRS, error) {
	text = strings.TrimSpace(strings.TrimPrefix(text, "\ufeff"))
	if text == "" {
		return CRS{}, nil
	}
	if m := wktCode.FindStringSubmatch(text); m != nil {
		if code, err := strconv.Atoi(m[1]); err == nil && code >= 1024 {
			return CRS{EPSG: code}, nil
		}
	}
	if !wktName.MatchString(strings.ToUpper(text)) || strings.ContainsFunc(text, unprintable) {
		return CRS{}, fmt.Errorf("%w: its .prj part is no definition of one", ErrCRS)
	}
	return CRS{WKT: text}, nil
}

func unprintable(c rune) bool {
	return c == unicode.ReplacementChar || c < ' ' && c != '\n' && c != '\r' && c != '\t'
}

// ParseCRS reads what a person types: "EPSG:26915", "26915", or a definition.
func ParseCRS(s string) (CRS, error) {
	s = strings.TrimSpace(s)
	digits := s
	if len(s) > 5 && strings.EqualFold(s[:5], "EPSG:") {
		digits = s[5:]
	}
	if code, err := strconv.Atoi(digits); err == nil && code >= 1024 && code <= 999_999 {
		return CRS{EPSG: code}, nil
	}
	c, err := fromWKT(s)
	if err == nil && !c.Known() || err != nil {
		return CRS{}, fmt.Errorf("%w: write it like EPSG:26915", ErrCRS)
	}
	return c, nil
}

// readCRS reads the member "crs" of the 2008 format: a named system, or the
// still older form that gives the code as a number. null, which the format
// calls "no system can be assumed", is taken as not said.
func readCRS(raw json.RawMessage) (srid int, err error) {
	if string(raw) == "null" {
		return wgs84, nil
	}
	var crs struct {
		Type       string
		Properties struct {
			Name string
			Code json.Number
		}
	}
	if err := json.Unmarshal(raw, &crs); err != nil {
		return 0, fmt.Errorf("%w: its member \"crs\" cannot be read", ErrCRS)
	}
	name := crs.Properties.Name
	if strings.EqualFold(crs.Type, "EPSG") && crs.Properties.Code != "" {
		name = "EPSG:" + crs.Properties.Code.String()
	}
	if m := epsgName.FindStringSubmatch(name); m != nil {
		code, err := strconv.Atoi(m[1])
		if err == nil && code >= 1024 { // EPSG gives out no lower codes
			return code, nil
		}
	}
	switch upper := strings.ToUpper(name); {
	case strings.HasSuffix(upper, "CRS84"):
		return wgs84, nil
	case strings.HasSuffix(upper, "CRS83"):
		return nad83, nil
	case strings.HasSuffix(upper, "CRS27"):
		return nad27, nil
	}
	return 0, fmt.Errorf("%w: its member \"crs\" says %.80q, an EPSG code is needed", ErrCRS, name)
}

// geographic are the systems whose coordinates are degrees, as far as boundary
// files of the United States use them: WGS 84, and NAD 27 and NAD 83 with its
// readjustments (codes from memory).
var geographic = []int{wgs84, nad83, nad27, 4152, 4759, 6318}

// IsGeographic reports whether coordinates of a system are known to be
// longitude and latitude in degrees.
func IsGeographic(srid int) bool { return slices.Contains(geographic, srid) }
