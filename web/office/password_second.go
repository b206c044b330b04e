package office

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/http"
	"strings"
	"time"

	qr "github.com/piglig/go-qr"

	"sixmile/internal/account"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// Seconds keeps the second steps.
type Seconds interface {
	Second(ctx context.Context, who account.ID) (account.Second, error)
	SetSecond(ctx context.Context, who account.ID, seed account.Seed, step int64, codes []account.Recovery, today time.Time) error
	DropSecond(ctx context.Context, who account.ID, today time.Time) error
}

// enrollView is the page that sets up a second step.
type enrollView struct {
	Owes    bool // nothing else opens until it is done
	Seed    string
	Grouped string // the seed as one types it
	Square  square
	Code    field
	Refused []refusal
}

// square is a square code as one path of an SVG, a module being one unit.
type square struct {
	Size int // with the quiet zone
	Path string
}

// Box is the SVG's viewBox.
func (s square) Box() string { return fmt.Sprintf("0 0 %d %d", s.Size, s.Size) }

func newSquare(text string) (square, error) {
	const quiet = 4 // modules around it (ISO/IEC 18004)
	code, err := qr.EncodeText(text, qr.Medium)
	if err != nil {
		return square{}, fmt.Errorf("square code: %w", err)
	}
	var path strings.Builder
	for y := range code.Size() {
		for x := range code.Size() {
			if code.Module(x, y) {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	return square{code.Size() + 2*quiet, path.String()}, nil
}

func (o *office) enrollForm(w http.ResponseWriter, r *http.Request) error {
	seed, err := account.NewSeed(rand.Reader)
	if err != nil {
		return err
	}
	return o.showEnroll(w, r, http.StatusOK, seed, field{Name: "code"})
}

func (o *office) showEnroll(w http.ResponseWriter, r *http.Request, status int, seed account.Seed, code field) error {
	who := shell.Staff(r)
	picture, err := newSquare(seed.Address(o.About.Name, who.Login))
	if err != nil {
		return err
	}
	v := enrollView{Owes: who.Owes, Seed: seed.String(), Grouped: groups(seed.String()), Square: picture, Code: code, Refused: refusals(code)}
	return shell.Render(w, r, status, enrollPage(o.page(r, o.Lang.Say("enroll.title")), v))
}

// groups cuts letters into fours.
func groups(s string) string {
	var out []string
	for len(s) > 4 {
		out, s = append(out, s[:4]), s[4:]
	}
	return strings.Join(append(out, s), " ")
}

// enrollPost takes the seed that the page showed once the phone has proved that
// it has it, and shows the recovery codes: once, they are not kept as such.
func (o *office) enrollPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	seed, err := account.ParseSeed(form.Get("seed"))
	if err != nil {
		return fault.ErrNotFound // the page's own hidden field was changed
	}
	code := field{Name: "code", Value: line(form, "code")}
	step, ok := seed.Check(code.Value, o.now(), 0)
	if !ok {
		code.Problem = o.Lang.Say("enroll.wrong")
		return o.showEnroll(w, r, http.StatusUnprocessableEntity, seed, code)
	}
	codes, err := account.NewRecoveries(rand.Reader)
	if err != nil {
		return err
	}
	if err := o.Seconds.SetSecond(r.Context(), shell.Staff(r).ID, seed, step, codes, o.Today()); err != nil {
		return err
	}
	return shell.Render(w, r, http.StatusOK, recoveryPage(o.page(r, o.Lang.Say("enroll.codes.title")), codes))
}
