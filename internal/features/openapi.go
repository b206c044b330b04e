package features

import "encoding/json"

// Service is what the description of a service says of it.
type Service struct {
	Title, Description string
	Version            string   // of the interface
	Base               string   // address of the landing page, without a slash at its end
	Collections        []string // their ids
	Filters            []Filter
}

// Filter is a property that can be asked for by equality.
type Filter struct {
	Name, Description string
	Values            []string // all there are; none where there are too many to list
}

// object is a JSON object being made. Its keys are written in order, so the same
// service gives the same bytes.
type object = map[string]any

// Describe is the service's OpenAPI 3.0 document.
func Describe(s Service) ([]byte, error) {
	return json.Marshal(object{
		"openapi": "3.0.3",
		"info":    object{"title": s.Title, "description": s.Description, "version": s.Version},
		"servers": []any{object{"url": s.Base}},
		"tags":    []any{object{"name": "Capabilities"}, object{"name": "Data"}},
		"paths": object{
			"/":            get("getLandingPage", "Landing page", "Capabilities", "LandingPage", JSON),
			"/conformance": get("getConformance", "Conformance classes", "Capabilities", "ConfClasses", JSON),
			"/api":         get("getApi", "This description", "Capabilities", "Api", OpenAPI),
			"/collections": get("getCollections", "Collections", "Capabilities", "Collections", JSON),
			"/collections/{collectionId}": get("describeCollection", "One collection", "Capabilities", "Collection", JSON,
				"collectionId"),
			"/collections/{collectionId}/items": get("getFeatures", "Features of a collection", "Data", "FeatureCollectionGeoJSON", GeoJSON,
				append([]string{"collectionId", "limit", "offset", "bbox", "datetime"}, names(s.Filters)...)...),
			"/collections/{collectionId}/items/{featureId}": get("getFeature", "One feature", "Data", "FeatureGeoJSON", GeoJSON,
				"collectionId", "featureId"),
		},
		"components": object{"parameters": parameters(s), "schemas": schemas(), "responses": responses()},
	})
}

func names(filters []Filter) (out []string) {
	for _, f := range filters {
		out = append(out, f.Name)
	}
	return out
}

func ref(to string) object { return object{"$ref": "#/components/" + to} }

// get is an operation; each takes f beside its own parameters.
func get(id, summary, tag, schema, media string, with ...string) object {
	in := []any{}
	for _, name := range append(with, "f") {
		in = append(in, ref("parameters/"+name))
	}
	answers := object{
		"200": object{"description": summary, "content": object{
			media: object{"schema": ref("schemas/" + schema)}, HTML: object{"schema": object{"type": "string"}}}},
		"400": ref("responses/InvalidParameter"), "406": ref("responses/NotAcceptable"), "500": ref("responses/ServerError"),
	}
	if len(with) > 0 {
		answers["404"] = ref("responses/NotFound")
	}
	return object{"get": object{"operationId": id, "summary": summary, "tags": []any{tag}, "parameters": in, "responses": answers}}
}

func parameters(s Service) object {
	out := object{
		"collectionId": object{"name": "collectionId", "in": "path", "required": true, "description": "Id of a collection",
			"schema": object{"type": "string", "enum": s.Collections}},
		"featureId": object{"name": "featureId", "in": "path", "required": true, "description": "Id of a feature",
			"schema": object{"type": "string"}},
		"limit": query("limit", "How many features a page holds at most",
			object{"type": "integer", "minimum": 1, "maximum": MaxLimit, "default": DefaultLimit}),
		"offset": query("offset", "How many features to pass over; pages lead to each other by it",
			object{"type": "integer", "minimum": 0, "default": 0}),
		"bbox": object{"name": "bbox", "in": "query", "required": false, "style": "form", "explode": false,
			"description": "Only features that meet this box: west, south, east, north in degrees; with heights, which are passed over, six numbers",
			"schema":      object{"type": "array", "minItems": 4, "maxItems": 6, "items": object{"type": "number"}}},
		"datetime": query("datetime", "A date or an interval (RFC 3339). Features have no time of their own, so all of them are in any",
			object{"type": "string"}),
		"f": query("f", "Format of the answer, whatever the Accept header says", object{"type": "string", "enum": []string{"json", "html"}}),
	}
	for _, f := range s.Filters {
		schema := object{"type": "string"}
		if len(f.Values) > 0 {
			schema["enum"] = f.Values
		}
		out[f.Name] = query(f.Name, f.Description, schema)
	}
	return out
}

func query(name, description string, schema object) object {
	return object{"name": name, "in": "query", "required": false, "style": "form", "explode": false, "description": description, "schema": schema}
}

func schemas() object {
	text, list := object{"type": "string"}, func(of object) object { return object{"type": "array", "items": of} }
	links := list(ref("schemas/Link"))
	must := func(properties object, required ...string) object {
		return object{"type": "object", "required": required, "properties": properties}
	}
	number := object{"type": "number"}
	return object{
		"Link":        must(object{"href": text, "rel": text, "type": text, "title": text}, "href", "rel"),
		"LandingPage": must(object{"title": text, "description": text, "links": links}, "links"),
		"ConfClasses": must(object{"conformsTo": list(text), "links": links}, "conformsTo"),
		"Api":         object{"type": "object"},
		"Collections": must(object{"links": links, "collections": list(ref("schemas/Collection"))}, "links", "collections"),
		"Collection": must(object{"id": text, "title": text, "description": text, "links": links, "itemType": text, "crs": list(text),
			"extent": must(object{"spatial": must(object{"crs": text,
				"bbox": object{"type": "array", "minItems": 1, "items": object{"type": "array", "minItems": 4, "maxItems": 6, "items": number}}}, "bbox")}, "spatial"),
		}, "id", "links"),
		"FeatureCollectionGeoJSON": must(object{"type": object{"type": "string", "enum": []string{"FeatureCollection"}},
			"features": list(ref("schemas/FeatureGeoJSON")), "links": links, "edition": text, "note": text, "citation": text,
			"numberMatched":  object{"type": "integer", "minimum": 0},
			"numberReturned": object{"type": "integer", "minimum": 0}}, "type", "features"),
		"FeatureGeoJSON": must(object{"type": object{"type": "string", "enum": []string{"Feature"}}, "id": text,
			"geometry":   object{"nullable": true, "type": "object", "required": []string{"type"}, "properties": object{"type": text}},
			"properties": object{"type": "object", "nullable": true}, "links": links}, "type", "geometry", "properties"),
		"Exception": must(object{"code": text, "description": text}, "code"),
	}
}

func responses() object {
	out := object{}
	for name, description := range map[string]string{
		"InvalidParameter": "A parameter is not known or its value is none", "NotFound": "There is no such collection or feature",
		"NotAcceptable": "Only JSON and HTML can be given", "ServerError": "Something failed on the server's side",
	} {
		out[name] = object{"description": description, "content": object{
			JSON: object{"schema": ref("schemas/Exception")}, HTML: object{"schema": object{"type": "string"}}}}
	}
	return out
}
