package office

import (
	"context"
	"crypto/rand"
	"net/http"
	"strings"
	"time"

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
	Square  shell.Square
	Code    field
	Refused []refusal
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
	picture, err := shell.NewSquare(seed.Address(o.About.Name, who.Login))
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
