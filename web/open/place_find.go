package open

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// PlaceNames finds places by what people call them, and has their outlines.
type PlaceNames interface {
	Find(ctx context.Context, q place.Query, limit int) ([]place.Candidate, error)
	Set(ctx context.Context) (int, error)
	Outlines(ctx context.Context) (*place.Outlines, error)
}

// mostFound is how many places are offered to choose from.
const mostFound = 8

// maxFind is how much of a typed place is read: a legal description may be long.
const maxFind = 240

// finding is what a block shows of a typed place.
type finding struct {
	Typed   string
	Matched string        // the place that was taken at once
	Choices []placeChoice // or those to choose from
}

// placeChoice is a place to choose, as the value of a radio button.
type placeChoice struct{ Value, Label, Note string }

// placeValue is the form's value for a place: its county and township, or the
// county alone.
func placeValue(p place.Place) string {
	if p.Kind == place.County {
		return idString(p) + "." + sample.CountyOnly
	}
	return strconv.Itoa(int(p.County)) + "." + idString(p)
}

// pick puts a chosen place into a block. What is not one of ours is refused by
// the form's rules like any other.
func pick(b *sample.FormBag, value string) {
	if county, township, ok := strings.Cut(value, "."); ok {
		b.County, b.Township = county, township
	}
}

// findPlace looks up what was typed into one block. A place that is meant
// without a doubt is taken; else there are choices, or a problem at the field.
func (g *grower) findPlace(ctx context.Context, in url.Values, f *sample.Form, i int) (finding, *fault.Problem, error) {
	out := finding{Typed: typedPlace(in, i)}
	if i < 0 || i >= len(f.Bags) || g.Names == nil {
		return out, nil, nil
	}
	if strings.TrimSpace(out.Typed) == "" {
		return out, &fault.Problem{Key: "place.error.empty"}, nil
	}
	q := place.ParseQuery(out.Typed)
	list, err := g.Names.Find(ctx, q, mostFound)
	if err != nil {
		return out, nil, err
	}
	switch {
	case len(list) == 0:
		return out, notFound(q), nil
	case place.Sure(list, q):
		pick(&f.Bags[i], placeValue(list[0].Place))
		return finding{Matched: g.placeLabel(list[0])}, nil, nil
	}
	for _, c := range list {
		ch := placeChoice{Value: placeValue(c.Place), Label: g.placeLabel(c)}
		if c.How == place.ByTown {
			ch.Note = g.Lang.Say("place.town", "town", c.Town)
		}
		out.Choices = append(out.Choices, ch)
	}
	return out, nil, nil
}

// placeLabel names a candidate with its county.
func (g *grower) placeLabel(c place.Candidate) string {
	if c.Place.Kind == place.County {
		return g.Lang.Say("place.choice.county", "county", c.Place.Name)
	}
	return g.Lang.Say("place.choice", "place", c.Place.Label(), "county", c.County.Name)
}

// notFound is the sentence for a text that leads nowhere.
func notFound(q place.Query) *fault.Problem {
	key, known := map[place.Fault]string{
		place.TooLong: "place.error.toolong", place.NoTownship: "place.error.notownship", place.NoRange: "place.error.norange",
		place.BadTownship: "place.error.badtownship", place.BadRange: "place.error.badrange", place.BadSection: "place.error.badsection",
		place.BadQuarter: "place.error.badquarter", place.BadLot: "place.error.badlot", place.BadMeridian: "place.error.badmeridian",
		place.WrongWay: "place.error.wrongway", place.Twice: "place.error.twice", place.Unclear: "place.error.unclear",
		place.Coordinates: "place.error.coordinates",
	}[q.Fault]
	switch {
	case known:
	case q.Survey != nil && q.County != "":
		key = "place.error.notincounty"
	case q.Survey != nil:
		key = "place.error.nosuchtownship"
	default:
		key = "place.error.nosuchname"
	}
	return &fault.Problem{Key: key}
}

func typedPlace(in url.Values, i int) string {
	s := in.Get(sample.Field(i, "find"))
	if len(s) > maxFind {
		s = strings.ToValidUTF8(s[:maxFind], "")
	}
	return s
}

// keepFinds puts back what was typed into the blocks, unless blocks have moved.
func keepFinds(v *sendView, r *http.Request) {
	if r.Method != http.MethodPost || strings.HasPrefix(r.PostForm.Get("do"), "remove.") {
		return
	}
	v.eachBag(func(b *sendBag) {
		if b.Find.Typed == "" && b.Find.Matched == "" {
			b.Find.Typed = typedPlace(r.PostForm, b.I)
		}
	})
}

// eachBag calls f for every block.
func (v *sendView) eachBag(f func(*sendBag)) {
	for i := range v.Groups {
		for j := range v.Groups[i].Bags {
			f(&v.Groups[i].Bags[j])
		}
	}
}

// sendFind answers the button beside a typed place.
func (g *grower) sendFind(w http.ResponseWriter, r *http.Request, f sample.Form, known *ground, i int) error {
	f, err := g.whole(f)
	if err != nil {
		return err
	}
	found, problem, err := g.findPlace(r.Context(), r.PostForm, &f, i)
	if err != nil {
		return err
	}
	status := http.StatusOK
	var problems map[string]fault.Problem
	if problem != nil {
		status = http.StatusUnprocessableEntity
		problems = map[string]fault.Problem{sample.Field(i, "find"): *problem}
	}
	v := viewSend(f, known, g.Today(), problems)
	v.eachBag(func(b *sendBag) {
		if b.I == i {
			b.Find = found
		}
	})
	return g.showForm(w, r, status, v)
}
