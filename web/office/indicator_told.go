package office

import (
	"context"
	"strconv"
	"strings"

	"sixmile/internal/catalog"
	"sixmile/internal/place"
	"sixmile/internal/virulence"
)

// toldFall is what may be told of a closed fall, by region.
type toldFall struct {
	Caption string
	None    string // why nothing may be told
	Regions []toldRegion
}

type toldRegion struct{ Name, Tests, Types string }

// told parts the tests of closed falls into regions.
func (o *office) told(ctx context.Context) ([]toldFall, error) {
	falls, err := o.Indicators.Closed(ctx, o.Today())
	if err != nil || len(falls) == 0 {
		return nil, err
	}
	places, err := o.Program.Places(ctx)
	if err != nil {
		return nil, err
	}
	names := newGazetteer(places)
	var out []toldFall
	for _, f := range falls {
		t := toldFall{Caption: o.Lang.Say("indicator.told.caption", "year", strconv.Itoa(f.Season))}
		for _, r := range virulence.Regions(f.Tests, f.K, f.Dominance) {
			t.Regions = append(t.Regions, newToldRegion(o.Lang, names, r))
		}
		if len(t.Regions) == 0 {
			t.None = o.Lang.Say("indicator.told.none", "k", f.K)
		}
		out = append(out, t)
	}
	return out, nil
}

func newToldRegion(l *catalog.Lang, names gazetteer, r virulence.Region) toldRegion {
	var counties, types []string
	for _, c := range r.Counties {
		counties = append(counties, names.name(l, place.ID(c)))
	}
	for _, t := range r.Types {
		types = append(types, l.Say("indicator.told.type", "type", t.Type, "n", t.N))
	}
	return toldRegion{Name: strings.Join(counties, ", "), Tests: l.Number(r.Tests), Types: strings.Join(types, "; ")}
}
