// Package features is the part of an OGC API - Features service that knows
// nothing of what is served: requests read as the standard says, the documents
// every such service gives, and the description of itself in OpenAPI 3.0.
//
// The standard is OGC 17-069r4, OGC API - Features - Part 1: Core, version 1.0.1.
// "Requirement" in comments is one of its requirements.
package features

// Link is how documents lead to each other (RFC 8288).
type Link struct {
	Href  string `json:"href"`
	Rel   string `json:"rel"`
	Type  string `json:"type,omitempty"`
	Title string `json:"title,omitempty"`
}

// Media types of answers.
const (
	JSON    = "application/json"
	GeoJSON = "application/geo+json"
	HTML    = "text/html"
	OpenAPI = "application/vnd.oai.openapi+json;version=3.0"
)

// CRS84 is longitude and latitude in degrees: the one coordinate system there is.
const CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"

// Classes are the conformance classes that are kept.
func Classes() []string {
	const of = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/"
	return []string{of + "core", of + "oas30", of + "html", of + "geojson"}
}

// Conformance is the document of conformance classes (Requirement 6).
type Conformance struct {
	ConformsTo []string `json:"conformsTo"`
	Links      []Link   `json:"links,omitempty"`
}

// Landing is the first document (Requirement 2).
type Landing struct {
	Title       string `json:"title"`
	Description string `json:"description"`
	Links       []Link `json:"links"`
}

// Extent is where a collection lies, in degrees: west, south, east, north.
type Extent struct {
	Spatial Spatial `json:"spatial"`
}

// Spatial is the spatial part of an extent.
type Spatial struct {
	BBox [][4]float64 `json:"bbox"`
	CRS  string       `json:"crs"`
}

// Collection describes one set of features (Requirement 15).
type Collection struct {
	ID          string   `json:"id"`
	Title       string   `json:"title"`
	Description string   `json:"description"`
	Extent      *Extent  `json:"extent,omitempty"`
	ItemType    string   `json:"itemType"`
	CRS         []string `json:"crs"`
	Links       []Link   `json:"links"`
}

// Collections is the list of them (Requirement 13).
type Collections struct {
	Links       []Link       `json:"links"`
	Collections []Collection `json:"collections"`
}

// Feature is a feature as GeoJSON (RFC 7946). Its links are members that
// RFC 7946 allows and the standard asks for.
type Feature struct {
	Type       string     `json:"type"` // "Feature"
	ID         string     `json:"id"`
	Geometry   Raw        `json:"geometry"`
	Properties Properties `json:"properties"`
	Links      []Link     `json:"links,omitempty"`
}

// Page is one page of features (Requirements 27 to 31).
type Page struct {
	Type     string    `json:"type"` // "FeatureCollection"
	Edition  string    `json:"edition,omitempty"`
	Note     string    `json:"note,omitempty"`
	Citation string    `json:"citation,omitempty"`
	Matched  int       `json:"numberMatched"`
	Returned int       `json:"numberReturned"`
	Links    []Link    `json:"links"`
	Features []Feature `json:"features"`
}

// Exception is the answer to a request that cannot be answered (7.5.1).
type Exception struct {
	Code        string `json:"code"`
	Description string `json:"description"`
}
