package open

import (
	"context"
	"errors"
	"net/http"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/fault"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// Stubs give the answer to a bag's stub.
type Stubs interface {
	// StubAnswer: fault.ErrNotFound for everything that is not an answer, and
	// nothing tells which: other words, a code that nobody has, no form yet, or too
	// many tries.
	StubAnswer(ctx context.Context, c bag.Code, w bag.Words, today time.Time) (sample.Answer, error)
}

// stubView is the page that takes a stub's code and words.
type stubView struct {
	Code, Words           string // as typed
	CodeWrong, WordsWrong bool   // cannot be a stub's, whoever has it
	None                  bool   // there is no answer to them
	Example               string
	Tries                 int
}

// exampleWords are for the page's hint; they open nothing in particular.
const exampleWords = bag.Words(0x5a3c96e17b4)

func newStubView(code, words string) stubView {
	return stubView{Code: code, Words: words, Example: exampleWords.String(), Tries: bag.StubTries}
}

// stubForm asks for the code and the words.
func (g *grower) stubForm(w http.ResponseWriter, r *http.Request) error {
	return g.showStub(w, r, http.StatusOK, newStubView("", ""))
}

func (g *grower) showStub(w http.ResponseWriter, r *http.Request, status int, v stubView) error {
	w.Header().Set("Cache-Control", "no-store")
	p := g.page(g.Lang.Say("answer.stub.title"), "")
	p.Private = true
	return shell.Render(w, r, status, stubPage(p, v))
}

// stubPost answers a stub. What is well formed and opens nothing gets the same
// page whatever the reason.
func (g *grower) stubPost(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Cache-Control", "no-store")
	if _, err := shell.Posted(r); err != nil {
		return err
	}
	v := newStubView(typed(r.PostForm, "code"), typed(r.PostForm, "words"))
	code, err := bag.Parse(v.Code)
	v.CodeWrong = err != nil
	words, err := bag.ParseWords(v.Words)
	v.WordsWrong = err != nil
	if v.CodeWrong || v.WordsWrong {
		return g.showStub(w, r, http.StatusUnprocessableEntity, v)
	}
	a, err := g.Stubs.StubAnswer(r.Context(), code, words, g.Today())
	if errors.Is(err, fault.ErrNotFound) {
		v.None = true
		return g.showStub(w, r, http.StatusUnprocessableEntity, v)
	}
	if err != nil {
		return err
	}
	return g.showAnswer(w, r, a, "")
}
