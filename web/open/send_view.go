package open

import (
	"strconv"
	"strings"
	"time"

	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// sendView is everything the form shows.
type sendView struct {
	Form     sample.Form
	Counties []place.Place
	Groups   []sendGroup
	Problems map[string]fault.Problem
	Summary  []sendProblem
	Today    string // latest day the browser offers
	Season   *sample.Season
	Closed   bool // today is past the newest season's end
	Full     bool
	Ways     placeWaysOpen
}

// sendGroup is one grower's part of the form.
type sendGroup struct {
	Grower   int
	Named    bool // there are several growers, so they get a heading
	Standing string
	Bags     []sendBag
}

// sendBag is one bag's block.
type sendBag struct {
	sample.FormBag
	I         int
	Townships []place.Place
	DayInput  string // the type of the day's input
	Copied    bool   // a fresh copy of the block before it
	Optional  bool   // the folded questions hold something
	Find      finding
}

// sendProblem is a line of the summary above a refused form.
type sendProblem struct {
	Field   string // also the id of its input; empty for the form as a whole
	Bag     int    // counted from 1; 0 for none
	Problem fault.Problem
}

// fieldOrder is the order in which a block shows its fields.
var fieldOrder = []string{"code", "county", "township", "find", "day", "harvest", "crop", "next_crop", "resistance",
	"crop_before", "crop_two", "tillage", "texture", "ph", "acres"}

// viewSend lays a form out. problems is nil for a form that was not refused.
func viewSend(f sample.Form, g *ground, today time.Time, problems map[string]fault.Problem) sendView {
	v := sendView{
		Form: f, Counties: g.counties, Problems: problems, Today: today.Format(time.DateOnly),
		Full: len(f.Bags) >= sample.MaxBags,
	}
	if len(g.seasons) > 0 {
		v.Season = &g.seasons[0]
		v.Closed = today.After(v.Season.Closes)
	}
	for i, b := range f.Bags {
		if n := len(v.Groups); n == 0 || v.Groups[n-1].Grower != b.Grower {
			v.Groups = append(v.Groups, sendGroup{Grower: b.Grower, Standing: at(f.Standings, b.Grower)})
		}
		last := &v.Groups[len(v.Groups)-1]
		block := viewBag(f, i, g)
		block.Copied = block.Copied && len(last.Bags) > 0
		last.Bags = append(last.Bags, block)
	}
	for i := range v.Groups {
		v.Groups[i].Named = len(v.Groups) > 1
	}
	v.Summary = summary(len(f.Bags), problems)
	return v
}

func viewBag(f sample.Form, i int, g *ground) sendBag {
	b := sendBag{FormBag: f.Bags[i], I: i, DayInput: "date"}
	// Browsers take one way of writing a day; what they cannot show is kept as text.
	if d, err := sample.ParseDay(b.Day); err == nil {
		b.Day = d.Format(time.DateOnly)
	} else if b.Day != "" {
		b.DayInput = "text"
	}
	if id, err := strconv.ParseInt(b.County, 10, 32); err == nil {
		b.Townships = g.townships[place.ID(id)]
	}
	for _, s := range []string{b.CropBefore, b.CropTwo, b.Tillage, b.Texture, b.PH, b.Acres} {
		b.Optional = b.Optional || s != ""
	}
	if i > 0 && b.Code == "" {
		before := f.Bags[i-1]
		before.Code = ""
		b.Copied = f.Bags[i] == before && before.Township != ""
	}
	return b
}

// summary lists problems in the order of the page.
func summary(bags int, problems map[string]fault.Problem) []sendProblem {
	var out []sendProblem
	if p, ok := problems[""]; ok {
		out = append(out, sendProblem{Problem: p})
	}
	for i := range bags {
		for _, name := range fieldOrder {
			field := sample.Field(i, name)
			if p, ok := problems[field]; ok {
				out = append(out, sendProblem{Field: field, Bag: i + 1, Problem: p})
			}
		}
	}
	return out
}

// describedBy lists what explains a field: a hint, if there is one, and its
// problem, if there is one.
func (v sendView) describedBy(field, hint string) string {
	out := hint
	if v.wrong(field) {
		out = strings.TrimSpace(out + " " + field + ".wrong")
	}
	return out
}

// firstHint is the hint of a field that every block has: it stands in the first
// block and explains them all.
func firstHint(name string) string { return sample.Field(0, name) + ".hint" }

func (v sendView) wrong(field string) bool {
	_, ok := v.Problems[field]
	return ok
}

// next is the field to go on with after a block has been added.
func (v sendView) next() string { return "/send#" + sample.Field(len(v.Form.Bags), "code") }

func at(list []string, i int) string {
	if i < 0 || i >= len(list) {
		return ""
	}
	return list[i]
}

func idString(p place.Place) string { return strconv.Itoa(int(p.ID)) }
