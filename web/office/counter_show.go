package office

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/web/shell"
)

// Counter is what the counter does with bundles, within the counties of who
// asks. Codes of no bag and of another county's are fault.ErrNotFound.
type Counter interface {
	HandOut(ctx context.Context, code bag.Code, within account.Reach, today time.Time) (desk.Bundle, error)
	TakeBack(ctx context.Context, code bag.Code, within account.Reach, today time.Time) (desk.Bundle, error)
	// Tie: fault.ErrConflict when a bag has been counted.
	Tie(ctx context.Context, codes []bag.Code, within account.Reach, today time.Time) ([]desk.Bundle, error)
}

// counterView is the counter's page.
type counterView struct {
	Counties string // whose bundles; empty for all
	Scan     field
	Last     *handed // what was scanned just now
	Done     string  // what else was just done
	Wrong    string  // why a tie was not made
	Person   []given // for the person at the counter, newest first
	Carried  string  // those, for the next sending
	Bags     int     // of the person
}

// handed is a bundle that was scanned just now.
type handed struct {
	Text  string
	Fine  bool
	Codes []bundleCode
}

type bundleCode struct{ Code, State string }

// given is a bundle that the person at the counter got, as the page carries it
// along: a code of it and its number of bags.
type given struct {
	Code bag.Code
	Bags int
}

// Shown is the code as labels show it.
func (g given) Shown() string { return g.Code.String() }

// maxGiven is how many bundles one person can take before the oldest leave the list.
const maxGiven = 12

// writeGiven writes the list for a hidden field: code, stop, bags.
func writeGiven(list []given) string {
	var words []string
	for _, g := range list {
		words = append(words, string(g.Code)+"."+strconv.Itoa(g.Bags))
	}
	return strings.Join(words, " ")
}

// readGiven reads what writeGiven wrote and passes over everything else.
func readGiven(s string) []given {
	var out []given
	for _, w := range strings.Fields(s) {
		code, bags, _ := strings.Cut(w, ".")
		c, err := bag.Parse(code)
		n, err2 := strconv.Atoi(bags)
		if err == nil && err2 == nil && n > 0 && n <= bag.MaxBundle && len(out) < maxGiven {
			out = append(out, given{c, n})
		}
	}
	return out
}

// newCounterView is the page with what the person has so far.
func newCounterView(person []given) counterView {
	v := counterView{Scan: field{Name: "scan"}, Person: person, Carried: writeGiven(person)}
	for _, g := range person {
		v.Bags += g.Bags
	}
	return v
}

func (o *office) counterShow(w http.ResponseWriter, r *http.Request) error {
	return o.showCounter(w, r, http.StatusOK, newCounterView(nil))
}

func (o *office) showCounter(w http.ResponseWriter, r *http.Request, status int, v counterView) error {
	if within := shell.Staff(r).Reach(account.HandOut); !within.All {
		places, err := o.Program.Places(r.Context())
		if err != nil {
			return err
		}
		v.Counties = joinNames(o.Lang, newGazetteer(places), within.Counties)
	}
	p := o.page(r, o.Lang.Say("counter.title"))
	p.Scripts = []string{"count.js"}
	return shell.Render(w, r, status, counterPage(p, v))
}
