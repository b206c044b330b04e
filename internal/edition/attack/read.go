package attack

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Edition is one edition's text, read.
type Edition struct {
	Text     string
	Number   int
	Kind     string
	Season   int
	Released time.Time
	K        int
	Scheme   int
	Ranks    []string
	Cuts     []float64
	Previous string
	Tranches []Tranche
	Joins    []Join
	Again    []Again
	Falls    []Fall
}

// Ref is an edition and a line of it.
type Ref struct{ Edition, ID int }

// Join says that the tranche ID of its edition holds all of an older one.
type Join struct {
	ID int
	Of Ref
}

// Again is an older tranche, counted once more.
type Again struct {
	Of      Ref
	Samples int
	Coarse  bool
	Counts  []int
}

// Tranche is one line of an edition.
type Tranche struct {
	ID, County int
	Kind       string
	Places     []int
	Senders    int
	Samples    int
	ThisFall   bool
	Through    int
	Coarse     bool
	Counts     []int
}

// Fall is one fall figure. Highest is -1 where it is not told.
type Fall struct {
	County, Season, Samples, Finds, Highest int
}

// ErrText is wrapped when an edition's text has anything but what its format
// allows: an extra word could carry an extra fact.
var ErrText = errors.New("not the text of an edition")

// Read takes a canonical text apart.
func Read(text []byte) (Edition, error) {
	r := reader{lines: strings.Split(string(text), "\n")}
	e := Edition{Text: string(text)}
	r.exactly("sixmile edition 1")
	e.Number = r.number("number ")
	if e.Kind = r.word("kind "); !slices.Contains([]string{"release", "erratum", "restated"}, e.Kind) {
		r.fail("kind")
	}
	e.Season = r.number("season ")
	r.day("cutoff ")
	e.Released = r.day("released ")
	e.K = r.number("k ")
	e.Scheme = r.number("scheme ")
	e.Ranks = strings.Split(r.rest("ranks "), " ")
	e.Cuts = r.cuts()
	r.hex("boundaries ")
	e.Previous = r.hex("previous ")
	for strings.HasPrefix(r.peek(), "tranche ") {
		e.Tranches = append(e.Tranches, r.tranche())
	}
	for strings.HasPrefix(r.peek(), "joins ") {
		e.Joins = append(e.Joins, r.join())
	}
	for strings.HasPrefix(r.peek(), "again ") {
		e.Again = append(e.Again, r.again())
	}
	for strings.HasPrefix(r.peek(), "fall ") {
		e.Falls = append(e.Falls, r.fall())
	}
	r.exactly("end")
	r.exactly("")
	if r.at != len(r.lines) {
		r.fail("text after the end")
	}
	return e, r.err
}

type reader struct {
	lines []string
	at    int
	err   error
}

func (r *reader) fail(what string) {
	if r.err == nil {
		r.err = fmt.Errorf("%w: line %d: %s", ErrText, r.at, what)
	}
}

func (r *reader) peek() string {
	if r.at >= len(r.lines) {
		return ""
	}
	return r.lines[r.at]
}

func (r *reader) next() string {
	line := r.peek()
	if r.at >= len(r.lines) {
		r.fail("text ends early")
	}
	r.at++
	return line
}

func (r *reader) exactly(want string) {
	if r.next() != want {
		r.fail("want " + want)
	}
}

func (r *reader) rest(label string) string {
	rest, ok := strings.CutPrefix(r.next(), label)
	if !ok {
		r.fail("want " + label)
	}
	return rest
}

func (r *reader) word(label string) string {
	w := r.rest(label)
	if w == "" || strings.ContainsAny(w, " \t") {
		r.fail("one word after " + label)
	}
	return w
}

func (r *reader) number(label string) int { return r.integer(r.word(label)) }

// integer takes a number in the one way of writing it: another way of writing
// the same number would be a channel.
func (r *reader) integer(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil || strconv.Itoa(n) != s || n < 0 {
		r.fail("number " + s)
	}
	return n
}

func (r *reader) day(label string) time.Time {
	d, err := time.Parse(time.DateOnly, r.word(label))
	if err != nil {
		r.fail("day after " + label)
	}
	return d
}

func (r *reader) hex(label string) string {
	w := r.word(label)
	if len(w) != 64 || strings.Trim(w, "0123456789abcdef") != "" {
		r.fail("digest after " + label)
	}
	return w
}

func (r *reader) tranche() Tranche {
	w := strings.Split(r.next(), " ")
	if len(w) < 14 || w[0] != "tranche" || w[2] != "county" || w[6] != "senders" || w[8] != "samples" {
		r.fail("tranche")
		return Tranche{}
	}
	t := Tranche{
		ID: r.integer(w[1]), County: r.integer(w[3]), Kind: w[4], Senders: r.integer(w[7]),
		Samples: r.integer(w[9]), ThisFall: w[10] == "fall", Through: r.integer(w[11]), Coarse: w[12] == "coarse",
	}
	if !slices.Contains([]string{"township", "district", "remainder"}, t.Kind) ||
		!t.ThisFall && w[10] != "upto" || !t.Coarse && w[12] != "counts" {
		r.fail("tranche")
	}
	for _, p := range strings.Split(w[5], ",") {
		t.Places = append(t.Places, r.integer(p))
	}
	for _, n := range w[13:] {
		t.Counts = append(t.Counts, r.integer(n))
	}
	return t
}

func (r *reader) cuts() (out []float64) {
	for _, w := range strings.Fields(r.rest("cuts")) {
		n, err := strconv.ParseFloat(w, 64)
		if err != nil || strconv.FormatFloat(n, 'f', -1, 64) != w {
			r.fail("cut " + w)
		}
		out = append(out, n)
	}
	return out
}

func (r *reader) join() Join {
	w := strings.Split(r.next(), " ")
	if len(w) != 6 || w[2] != "edition" || w[4] != "tranche" {
		r.fail("joins")
		return Join{}
	}
	return Join{ID: r.integer(w[1]), Of: Ref{r.integer(w[3]), r.integer(w[5])}}
}

func (r *reader) again() Again {
	w := strings.Split(r.next(), " ")
	if len(w) < 9 || w[1] != "edition" || w[3] != "tranche" || w[5] != "samples" || w[7] != "counts" && w[7] != "coarse" {
		r.fail("again")
		return Again{}
	}
	a := Again{Of: Ref{r.integer(w[2]), r.integer(w[4])}, Samples: r.integer(w[6]), Coarse: w[7] == "coarse"}
	for _, n := range w[8:] {
		a.Counts = append(a.Counts, r.integer(n))
	}
	return a
}

func (r *reader) fall() Fall {
	w := strings.Split(r.next(), " ")
	if len(w) != 10 || w[2] != "season" || w[4] != "samples" || w[6] != "finds" || w[8] != "highest" {
		r.fail("fall figure")
		return Fall{}
	}
	f := Fall{County: r.integer(w[1]), Season: r.integer(w[3]), Samples: r.integer(w[5]), Finds: r.integer(w[7]), Highest: -1}
	if w[9] != "-" {
		f.Highest = r.integer(w[9])
	}
	return f
}
