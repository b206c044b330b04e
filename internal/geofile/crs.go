package geofile

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
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
