package audit

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"strconv"
	"strings"
)

// Features reads the collections of features back (OGC API - Features): those of
// townships, counties and joined townships of each edition, page after page.
type Features struct {
	// Fetch asks for an address as anybody would; it begins with /features.
	Fetch func(ctx context.Context, path string) ([]byte, error)
	// Codes are the editions' by their numbers.
	Codes map[int]string
	// CountyOf is a township's county.
	CountyOf map[int]int
	// PageSize is how many features are asked for at once.
	PageSize int
}

// Figures reads those of an edition.
func (f Features) Figures(ctx context.Context, edition int) (out []Claim, err error) {
	for _, kind := range []string{"counties", "townships", "joined"} {
		path := "/features/collections/" + kind + "-" + f.Codes[edition] + "/items?limit=" + strconv.Itoa(f.PageSize)
		for path != "" {
			page, err := f.page(ctx, path)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", path, err)
			}
			for _, x := range page.Features {
				claims, err := f.claims(kind, path, edition, x)
				if err != nil {
					return nil, fmt.Errorf("%s: feature %s: %w", path, x.ID, err)
				}
				out = append(out, claims...)
			}
			path = page.next()
		}
	}
	return out, nil
}

// featurePage is what is read of a page.
type featurePage struct {
	Links []struct {
		Href, Rel string
	} `json:"links"`
	Features []featureRead `json:"features"`
}

type featureRead struct {
	ID         string         `json:"id"`
	Properties map[string]any `json:"properties"`
}

func (f Features) page(ctx context.Context, path string) (p featurePage, err error) {
	body, err := f.Fetch(ctx, path)
	if err != nil {
		return p, err
	}
	return p, json.Unmarshal(body, &p)
}

// next is the address of the page after, without its host; "" after the last.
func (p featurePage) next() string {
	for _, l := range p.Links {
		if l.Rel != "next" {
			continue
		}
		if u, err := url.Parse(l.Href); err == nil {
			return u.RequestURI()
		}
	}
	return ""
}

// scope is what a feature's figures are of.
func (f Features) scope(kind, id string) (s Scope, err error) {
	county, group, _ := strings.Cut(id, "-")
	switch kind {
	case "counties":
		s.County, err = strconv.Atoi(id)
	case "townships":
		if s.Township, err = strconv.Atoi(id); err == nil {
			s.County = f.CountyOf[s.Township]
		}
	default:
		if s.County, err = strconv.Atoi(county); err == nil {
			s.Joined, err = strconv.Atoi(group)
		}
	}
	if err == nil && s.County == 0 {
		err = fmt.Errorf("it is in no county")
	}
	return s, err
}

// claims are the figures of one feature.
func (f Features) claims(kind, source string, edition int, x featureRead) (out []Claim, err error) {
	s, err := f.scope(kind, x.ID)
	if err != nil {
		return nil, err
	}
	claim := func(m Measure, value string) {
		out = append(out, Claim{Source: source, Edition: edition, Scope: s, Measure: m, Value: value})
	}
	p := x.Properties
	has := p["samples"] != nil
	claim(HasFigures, strconv.FormatBool(has))
	if !has {
		for name, v := range p {
			if v != nil && (strings.HasPrefix(name, "level") || name == "found" || name == "falls" || name == "none_found" || name == "unconfirmed") {
				return nil, fmt.Errorf("it has %s and no figures", name)
			}
		}
		return out, nil
	}
	for name, m := range map[string]Measure{"samples": Samples, "found": Finds, "none_found": NoneFound, "unconfirmed": Unconfirmed,
		"found_level_not_shown": Unsorted, "level_rank": Highest} {
		n, is := p[name].(float64)
		if !is {
			return nil, fmt.Errorf("%s is %v", name, p[name])
		}
		claim(m, strconv.FormatFloat(n, 'f', -1, 64))
	}
	falls, _ := p["falls"].(string)
	claim(Window, falls)
	for name, v := range p {
		rank, _, is := strings.Cut(strings.TrimPrefix(name, "level_"), "_")
		at, err := strconv.Atoi(rank)
		if n, number := v.(float64); is && err == nil && number && strings.HasPrefix(name, "level_") {
			claim(Level(at), strconv.FormatFloat(n, 'f', -1, 64))
		}
	}
	if kind == "counties" {
		for name, m := range map[string]Measure{"townships_with_figures": Shown, "townships_with_finds": FoundIn} {
			n, _ := p[name].(float64)
			claim(m, strconv.FormatFloat(n, 'f', -1, 64))
		}
		if fall, is := p["fall"].(float64); is {
			of := Scope{County: s.County, Fall: int(fall)}
			for name, m := range map[string]Measure{"fall_samples_about": Samples, "fall_finds_about": Finds} {
				n, _ := p[name].(float64)
				out = append(out, Claim{Source: source, Edition: edition, Scope: of, Measure: m, Value: strconv.FormatFloat(n, 'f', -1, 64)})
			}
		}
	}
	return out, nil
}
