package open

import (
	"crypto/sha256"
	"encoding/hex"
	"time"

	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// receiptView is what a sender gets to keep.
type receiptView struct {
	Form sample.Form // for changing it
	Bags []receiptBag
}

type receiptBag struct {
	Code     string
	County   place.Place
	Township *place.Place // nil: only the county was said
	Day      time.Time
	Ends     *time.Time // until when the answer can be opened at least; nil: not known
	Path     string     // of the answer's page here
	URL      string     // of the answer's page for the world
	QR       shell.Square
	Note     string
}

// viewReceipt is the same for every visit that is well formed: it does not
// depend on what became of its codes.
func viewReceipt(v sample.Visit, f sample.Form, g *ground, ends map[int]time.Time, origin string) (receiptView, error) {
	out := receiptView{Form: f}
	for _, s := range v.Senders {
		for _, b := range s.Bags {
			secret := v.Token.Secret(b.Code)
			in := receiptBag{
				Code: b.Code.String(), Day: b.Day, County: g.places[b.Place],
				Path: "/answer/" + secret.String(), Note: noteKey(secret),
			}
			if day, ok := ends[b.Season]; ok {
				in.Ends = &day
			}
			if p := g.places[b.Place]; p.Kind == place.Township {
				in.Township, in.County = &p, g.places[p.County]
			}
			in.URL = origin + in.Path
			var err error
			if in.QR, err = shell.NewSquare(in.URL); err != nil {
				return receiptView{}, err
			}
			out.Bags = append(out.Bags, in)
		}
	}
	return out, nil
}

// noteKey is the name under which a browser keeps the sender's own note. It is
// made from the secret one way, so that a note never opens an answer.
func noteKey(s sample.Secret) string {
	sum := sha256.Sum256(append([]byte("note "), s[:]...))
	return hex.EncodeToString(sum[:8])
}
