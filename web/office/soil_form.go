package office

import (
	"crypto/rand"
	"net/http"
	"strconv"
	"strings"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/sample"
	"sixmile/internal/tray"
	"sixmile/web/shell"
)

// outcome is what became of one code at the log-in table.
type outcome string

// The outcomes; the catalog has a sentence for each under "soil.outcome.".
const (
	soilIn     outcome = "in"      // logged in now
	soilBefore outcome = "before"  // had come before; its first day stands
	soilNone   outcome = "unknown" // no such bag, or one that was set aside
	soilNoCode outcome = "nocode"  // cannot be a code
	soilStray  outcome = "stray"   // nothing to read, or not the program's: noted
)

// letters write outcomes in the batch that the page carries along.
var letters = map[outcome]byte{soilIn: 'i', soilBefore: 'b', soilNone: 'u'}

// landed is one code and what became of it.
type landed struct {
	Code    bag.Code // empty for what is no code
	Typed   string   // shown in its place
	Outcome outcome
	Why     string    // for what is no code: the reason in words
	Seat    tray.Seat // zero: in no cup
}

// Shown is the code as labels show it, or what was typed.
func (l landed) Shown() string {
	if l.Code == "" {
		return l.Typed
	}
	return l.Code.String()
}

// seatText says where a bag's soil goes: "tray 3, cup 17".
func seatText(l *catalog.Lang, s tray.Seat) string {
	if s == (tray.Seat{}) {
		return ""
	}
	return l.Say("soil.seat", "tray", s.Tray, "cup", s.Cup)
}

// conditions are what a bag can look like, the first of them being usual.
func conditions(l *catalog.Lang, chosen tray.Condition) []choice {
	var out []choice
	for _, c := range tray.Conditions() {
		out = append(out, choice{string(c), l.SayOf("condition", string(c)), c == chosen})
	}
	return out
}

// soilView is the log-in page.
type soilView struct {
	Token      string // of this page: what has no code is noted once
	Conditions []choice
	Last       []landed // what this sending brought
	Refused    bool     // the code that was scanned could not be taken
	Many       field
	Batch      []landed // newest first
	Carried    string   // the batch for the next sending
	In         int      // of the batch

	Condition tray.Condition
	Same      bool // the condition stays as it is until it is changed
}

// maxBatch is how many codes a page carries along; older ones leave the list.
const maxBatch = 2000

// writeBatch writes a batch, newest first, for a hidden field: a letter and a
// code each. It is only ever shown again to whoever sent it.
func writeBatch(batch []landed) string {
	var b strings.Builder
	for i, l := range batch {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteByte(letters[l.Outcome])
		b.WriteString(string(l.Code))
		if l.Seat != (tray.Seat{}) {
			b.WriteString(":" + strconv.Itoa(l.Seat.Tray) + "." + strconv.Itoa(l.Seat.Cup))
		}
	}
	return b.String()
}

// readBatch reads what writeBatch wrote and passes over everything else.
func readBatch(s string) []landed {
	var out []landed
	for _, w := range strings.Fields(s) {
		for o, letter := range letters {
			if w[0] != letter {
				continue
			}
			code, seat, _ := strings.Cut(w[1:], ":")
			if c, err := bag.Parse(code); err == nil && len(out) < maxBatch {
				out = append(out, landed{Code: c, Outcome: o, Seat: readSeat(seat)})
			}
		}
	}
	return out
}

// readSeat reads a seat of writeBatch; zero for none.
func readSeat(s string) tray.Seat {
	at, cup, _ := strings.Cut(s, ".")
	t, err := strconv.Atoi(at)
	c, err2 := strconv.Atoi(cup)
	if err != nil || err2 != nil || t < 1 || c < 1 || t > 9999 || c > tray.MaxCups {
		return tray.Seat{}
	}
	return tray.Seat{Tray: t, Cup: c}
}

// newSoilView puts what came now on top of the batch that came before.
func newSoilView(now, before []landed) soilView {
	v := soilView{Last: now, Many: field{Name: "many"}}
	for i := len(now) - 1; i >= 0; i-- {
		if now[i].Code != "" {
			v.Batch = append(v.Batch, now[i])
		}
	}
	v.Batch = append(v.Batch, before...)
	v.Batch = v.Batch[:min(len(v.Batch), maxBatch)]
	for _, l := range v.Batch {
		if l.Outcome == soilIn {
			v.In++
		}
	}
	v.Carried = writeBatch(v.Batch)
	return v
}

func (o *office) soilForm(w http.ResponseWriter, r *http.Request) error {
	return o.showSoil(w, r, http.StatusOK, newSoilView(nil, nil))
}

func (o *office) showSoil(w http.ResponseWriter, r *http.Request, status int, v soilView) error {
	token, err := sample.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	if v.Condition == "" {
		v.Condition = tray.Good
	}
	v.Token, v.Conditions = token.String(), conditions(o.Lang, v.Condition)
	p := o.page(r, o.Lang.Say("soil.title"))
	p.Scripts = []string{"count.js"}
	return shell.Render(w, r, status, soilPage(p, v))
}
