package office

import (
	"net/http"
	"strings"

	"sixmile/web/shell"
)

// signInView is the sign-in page: never with a password in it.
type signInView struct {
	Login string
	To    string
	Wrong string // one sentence, the same for whatever was wrong
	Set   bool   // a password has just been set
}

func (o *office) signInForm(w http.ResponseWriter, r *http.Request) error {
	return o.showSignIn(w, r, http.StatusOK, signInView{To: localPath(r.URL.Query().Get("to")), Set: r.URL.Query().Has("set")})
}

func (o *office) showSignIn(w http.ResponseWriter, r *http.Request, status int, v signInView) error {
	w.Header().Set("Cache-Control", "no-store")
	return shell.Render(w, r, status, signInPage(o.page(r, o.Lang.Say("signin.title")), v))
}

// home is where a sign-in leads that came from nowhere in particular.
const home = "/office"

// localPath keeps a path of the office and turns everything else into home: an
// address of another site, written in whatever way, has no slash after office,
// two slashes in a row, or a character that paths of ours never have.
func localPath(to string) string {
	rest, ours := strings.CutPrefix(to, home)
	if !ours || rest != "" && rest[0] != '/' || strings.Contains(rest, "//") || strings.Contains(rest, "..") || len(rest) > maxTyped {
		return home
	}
	for _, r := range rest {
		if !('a' <= r && r <= 'z' || '0' <= r && r <= '9' || strings.ContainsRune("/-.", r)) {
			return home
		}
	}
	if strings.HasPrefix(rest, "/sign-") {
		return home
	}
	return to
}
