package features

import (
	"net/url"
	"strconv"
	"strings"
)

// Negotiate chooses among the media types that can be answered, the one that is
// given where nothing is asked for first: f=json or f=html settles it, else the
// Accept header does (RFC 9110, section 12.5.1). JSON and its kinds stand for
// each other: a client that takes application/json takes GeoJSON.
//
// False: none of them will do (406). An f that is neither is *BadRequest.
func Negotiate(q url.Values, accept []string, offered ...string) (string, bool, error) {
	if q.Has("f") {
		for _, o := range offered {
			if q.Get("f") == short(o) {
				return o, true, nil
			}
		}
		return "", false, bad("f", "json or html are needed")
	}
	header := strings.Join(accept, ",")
	if strings.TrimSpace(header) == "" {
		return offered[0], true, nil
	}
	best, weight := "", 0.0
	for _, o := range offered {
		if w := wanted(header, o); w > weight {
			best, weight = o, w
		}
	}
	return best, best != "", nil
}

func short(media string) string {
	if media == HTML {
		return "html"
	}
	return "json"
}

// wanted is how much an Accept header wants a media type, 0 to 1. The most
// precise range that fits counts.
func wanted(header, media string) float64 {
	weight, precise := 0.0, -1
	for entry := range strings.SplitSeq(header, ",") {
		name, parameters, _ := strings.Cut(entry, ";")
		at := fits(strings.ToLower(strings.TrimSpace(name)), media)
		if at <= precise {
			continue
		}
		precise, weight = at, 1
		for p := range strings.SplitSeq(parameters, ";") {
			if k, v, ok := strings.Cut(p, "="); ok && strings.TrimSpace(k) == "q" {
				weight, _ = strconv.ParseFloat(strings.TrimSpace(v), 64)
			}
		}
	}
	return min(max(weight, 0), 1)
}

// fits is how precisely a range of an Accept header means a media type; -1 where
// it does not.
func fits(name, media string) int {
	media, _, _ = strings.Cut(media, ";")
	kind, _, _ := strings.Cut(media, "/")
	switch {
	case name == media:
		return 3
	case kind == "application" && strings.HasSuffix(media, "json") && strings.HasPrefix(name, "application/") && strings.HasSuffix(name, "json"):
		return 2
	case name == kind+"/*":
		return 1
	case name == "*/*":
		return 0
	}
	return -1
}
