package open

import (
	"math"
	"net/http"

	"sixmile/internal/assay"
	"sixmile/web/shell"
)

// helpLevel is a row of the table of levels.
type helpLevel struct {
	Class        assay.Class
	Mark         levelMark
	Range        string // key under help.range
	Lower, Upper int
}

// help says how the program works and what it promises.
func (g *grower) help(w http.ResponseWriter, r *http.Request) error {
	scheme, err := g.Levels.Scheme(r.Context())
	if err != nil {
		return err
	}
	p := g.page(g.Lang.Say("help.title"), "help")
	return shell.Render(w, r, http.StatusOK, helpPage(p, scheme, viewLevels(scheme)))
}

// viewLevels puts a scheme's cut points into words.
func viewLevels(s assay.Scheme) []helpLevel {
	var out []helpLevel
	lower := assay.Density(-1) // no found class yet
	for _, c := range s.Classes {
		l := helpLevel{Class: c, Mark: markOf(s, c)}
		open := math.IsInf(float64(c.Upper), 1)
		if !open {
			l.Upper = whole(float64(c.Upper))
		}
		switch {
		case c.Kind == assay.None:
			l.Range = "none"
		case c.Kind == assay.Unconfirmed:
			l.Range = "unconfirmed"
		case open && lower < 0:
			l.Range = "any"
		case open:
			l.Range = "over"
		case lower < 0:
			l.Range = "upto"
		default:
			l.Range = "between"
		}
		if c.Kind == assay.Found {
			l.Lower = whole(float64(max(lower, 0)))
			lower = c.Upper
		}
		out = append(out, l)
	}
	return out
}
