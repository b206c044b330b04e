package office

import (
	"context"
	"errors"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/sample"
)

// maxGround is the most bytes of one boundary file as it is sent. What it unpacks
// to is bounded by geofile.Limits.
const maxGround = 64 << 20

// Roles of a file.
const (
	countyFile   = "counties"
	townshipFile = "townships"
	layerFile    = "layer"
)

// groundFile is a file that was sent, with what a first reading found in it.
type groundFile struct {
	Role, Name string
	data       []byte

	Layers   []string // where it has several and none was picked
	Layer    string   // the one picked
	Fields   []string
	First    map[string]string // of each field, the first value that is not empty
	Features int
	Says     geofile.CRS // what the file says of its coordinate system
	Failed   error
}

// groundWish is how a person wants files to be read. Fields are by role: "code",
// "name", "county", "rank".
type groundWish struct {
	Layer map[string]string
	CRS   map[string]string // as typed
	Field map[string]map[string]string
	Kind  string // of a reference layer, with its title and place in the order
	Title string
	At    int
}

// groundDraft is files that were sent and are neither in force nor given up.
// They are held in memory.
type groundDraft struct {
	token sample.Token
	files []*groundFile
	wish  groundWish
	said  string // what came of it, once it is done
}

// plats is what the pages of boundaries keep between requests: the files of one
// person at a time, and one piece of work at a time.
type plats struct {
	limits geofile.Limits

	mu    sync.Mutex
	draft *groundDraft
	job   groundJob
}

func newPlats() *plats { return &plats{limits: geofile.DefaultLimits()} }

// groundJob is the work under way, or how the last one ended.
type groundJob struct {
	Key     string // what it works on: the page that waits for it
	Running bool
	Doing   string // a step of the store, or "reading"
	Share   float64
	Failed  error
	Then    string // where to go now that it is done; "" for nowhere else
}

// errGroundBusy: somebody's files are being worked on.
var errGroundBusy = errors.New("office: boundaries are being worked on")

// look is the job of a key as it stands; the zero job if the last one was
// another's.
func (g *plats) look(key string) groundJob {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.job.Key != key {
		return groundJob{}
	}
	return g.job
}

// busy tells whether something is worked on, and on which page to see it.
func (g *plats) busy() (key string, yes bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.job.Key, g.job.Running
}

// put holds files in place of those held before. errGroundBusy: not now.
func (g *plats) put(d *groundDraft) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.job.Running {
		return errGroundBusy
	}
	g.draft = d
	return nil
}

// find gives the files of a token. fault.ErrNotFound: they are held no more.
func (g *plats) find(token string) (*groundDraft, error) {
	t, err := sample.ParseToken(token)
	if err != nil {
		return nil, fault.ErrNotFound
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.draft == nil || g.draft.token != t {
		return nil, fault.ErrNotFound
	}
	return g.draft, nil
}

// held is the page of the files that are held; "" for none.
func (g *plats) held() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.draft == nil || g.draft.said != "" {
		return ""
	}
	return groundKey(g.draft)
}

// drop lets go of the files, unless they are worked on.
func (g *plats) drop() {
	g.mu.Lock()
	defer g.mu.Unlock()
	if !g.job.Running {
		g.draft = nil
	}
}

// change alters what is held while a page may be reading it.
func (g *plats) change(f func()) {
	g.mu.Lock()
	defer g.mu.Unlock()
	f()
}

// tell notes how far the job has come.
func (g *plats) tell(doing string, share float64) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.job.Doing, g.job.Share = doing, share
}

// groundTime is far more than the boundaries of the whole country take.
const groundTime = 30 * time.Minute

// begin runs a job apart from the request that asked for it; then is where its
// page leads afterwards. errGroundBusy: another one is running.
func (o *office) begin(ctx context.Context, key string, do func(ctx context.Context) (then string, err error)) error {
	g := o.plats
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.job.Running {
		return errGroundBusy
	}
	g.job = groundJob{Key: key, Running: true, Doing: "reading"}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), groundTime)
	go func() {
		defer cancel()
		var then string
		err := unharmed(func() (err error) { then, err = do(ctx); return err })
		g.mu.Lock()
		defer g.mu.Unlock()
		g.job = groundJob{Key: key, Failed: err, Then: then}
		if err != nil && !groundExpected(err) {
			o.Log.Error("boundaries", "error", err)
		}
	}()
	return nil
}

// groundExpected tells the failures that are said in words.
func groundExpected(err error) bool {
	_, ok := groundProblem(err)
	return ok
}

// groundProblem is what is wrong with a file or a set in sentences; false for
// what is not the file's fault.
func groundProblem(err error) (lines []string, ok bool) {
	var report *geofile.Report
	var over *geofile.LimitError
	var choose *geofile.ChooseError
	var refused *geofile.Refused
	switch {
	case errors.As(err, &report):
		for _, p := range report.Problems {
			lines = append(lines, p.String())
		}
		return lines, true
	case errors.As(err, &refused), errors.As(err, &over), errors.As(err, &choose),
		errors.Is(err, geofile.ErrCRS), errors.Is(err, geofile.ErrFormat), errors.Is(err, geofile.ErrKind),
		errors.Is(err, geofile.ErrNotGeoJSON), errors.Is(err, geofile.ErrShapefile), errors.Is(err, geofile.ErrGeoPackage):
		return []string{plainCause(err)}, true
	}
	return nil, false
}

// plainCause is the error's sentence without the names of calls in front.
func plainCause(err error) string {
	text := err.Error()
	for _, typed := range []error{geofile.ErrCRS, geofile.ErrFormat, geofile.ErrKind, geofile.ErrNotGeoJSON, geofile.ErrShapefile, geofile.ErrGeoPackage} {
		if errors.Is(err, typed) {
			text = cutBefore(text, typed.Error())
		}
	}
	var over *geofile.LimitError
	var choose *geofile.ChooseError
	var refused *geofile.Refused
	switch {
	case errors.As(err, &over):
		text = over.Error()
	case errors.As(err, &choose):
		text = choose.Error()
	case errors.As(err, &refused):
		text = refused.Error()
	}
	return sentence(text)
}

// sentence begins with a capital and ends with a stop.
func sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if s = string(unicode.ToUpper(r)) + s[n:]; !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
