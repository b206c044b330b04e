package office

import (
	"errors"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/web/shell"
)

// filesView is the page of files that were sent.
type filesView struct {
	Path    string
	Work    *workView // while something is worked on
	Failed  []string
	Said    string
	Files   []fileView
	Reread  bool // a layer has to be picked first
	Ready   bool // everything is read: what is wanted can be picked
	ForMaps bool // a reference layer
	Refused []refusal
}

// workView is work under way.
type workView struct {
	Doing   string
	Percent int
}

// fileView is one of the files.
type fileView struct {
	Role, Name, About string
	Failed            []string
	Layer             field
	Layers            []choice
	CRS               field
	AskCRS            bool
	Uses              []useView
}

// useView is a select of the field that serves for something.
type useView struct {
	field
	Label   string
	Choices []choice
}

// filesShow is the page of files that were sent; while they are worked on the
// browser asks again every second, without a script.
func (o *office) filesShow(w http.ResponseWriter, r *http.Request) error {
	d, err := o.plats.find(chi.URLParam(r, "token"))
	if errors.Is(err, fault.ErrNotFound) {
		return o.showBoundaries(w, r, http.StatusNotFound, boundariesTyped{problems: map[string]string{countyFile: o.Lang.Say("boundary.gone")}})
	}
	if err != nil {
		return err
	}
	if now := o.plats.look(groundKey(d)); now.Then != "" {
		http.Redirect(w, r, now.Then, http.StatusSeeOther)
		return nil
	}
	return o.showFiles(w, r, http.StatusOK, d, nil)
}

func (o *office) showFiles(w http.ResponseWriter, r *http.Request, status int, d *groundDraft, problems map[string]string) error {
	now := o.plats.look(groundKey(d))
	v := filesView{Path: groundKey(d), Work: o.working(now)}
	if v.Work != nil {
		w.Header().Set("Refresh", "1")
	} else if now.Failed != nil {
		v.Failed = o.groundFailure(now.Failed)
	}
	if p := problems[""]; p != "" {
		v.Failed = append(v.Failed, p)
	}
	o.plats.change(func() {
		v.Said = d.said
		v.ForMaps = d.files[0].Role == layerFile
		v.fill(o.Lang, d, problems)
	})
	p := o.page(r, o.Lang.Say("boundary.files.title"))
	p.Address = "/office/boundaries"
	return shell.Render(w, r, status, filesPage(p, v))
}

// working is a job as a page shows it; nil for one that does not run.
func (o *office) working(j groundJob) *workView {
	if !j.Running {
		return nil
	}
	doing := o.Lang.Say("boundary.doing.other")
	if step := strings.ReplaceAll(j.Doing, " ", "-"); o.Lang.Has("boundary.doing." + step) {
		doing = o.Lang.SayOf("boundary.doing", step)
	}
	return &workView{doing, min(100, max(0, int(j.Share*100)))}
}

// groundFailure says why files could not be read or laid out.
func (o *office) groundFailure(err error) []string {
	switch lines, ok := groundProblem(err); {
	case ok:
		return lines
	case errors.Is(err, fault.ErrConflict):
		return []string{o.Lang.Say("boundary.conflict")}
	case errors.Is(err, fault.ErrNotFound):
		return []string{o.Lang.Say("boundary.nothing")}
	}
	return []string{o.Lang.Say("boundary.failed")}
}

func (v *filesView) fill(l *catalog.Lang, d *groundDraft, problems map[string]string) {
	v.Ready = v.Work == nil && v.Said == ""
	for _, f := range d.files {
		s := fileView{Role: f.Role, Name: f.Name}
		if f.Failed != nil {
			v.Ready = false
			if lines, ok := groundProblem(f.Failed); ok {
				s.Failed = lines
			} else {
				s.Failed = []string{l.Say("boundary.failed")}
			}
		}
		s.Layer = field{Name: f.Role + "-layer"}
		for _, name := range f.Layers {
			s.Layers = append(s.Layers, choice{name, shorten(name), name == f.Layer})
		}
		v.Reread = v.Reread || len(s.Layers) > 0
		if f.Failed == nil && len(f.Layers) == 0 {
			s.fill(l, f, d.wish, problems)
		}
		for _, x := range append([]field{s.CRS}, s.fields()...) {
			if x.Problem != "" {
				v.Refused = append(v.Refused, refusal{x.Name, x.Problem})
			}
		}
		v.Files = append(v.Files, s)
	}
	v.Ready = v.Ready && !v.Reread
}

func (s *fileView) fields() (out []field) {
	for _, u := range s.Uses {
		out = append(out, u.field)
	}
	return out
}

func (s *fileView) fill(l *catalog.Lang, f *groundFile, w groundWish, problems map[string]string) {
	s.About = l.Count("boundary.file.about", f.Features, "crs", f.Says.String())
	if s.AskCRS = !f.Says.Known(); s.AskCRS {
		s.About = l.Count("boundary.file.unplaced", f.Features)
	}
	s.CRS = field{Name: f.Role + "-crs", Value: w.CRS[f.Role], Problem: problems[f.Role+"-crs"]}
	for _, use := range groundUses[f.Role] {
		name := f.Role + "-" + use
		u := useView{field: field{Name: name, Value: w.Field[f.Role][use], Problem: problems[name]}, Label: l.SayOf("boundary.use", use)}
		u.Choices = append(u.Choices, choice{"", l.SayOf("boundary.without", use), u.Value == ""})
		for _, name := range f.Fields {
			label := shorten(name)
			if first := f.First[name]; first != "" {
				label = l.Say("boundary.field", "field", label, "first", first)
			}
			u.Choices = append(u.Choices, choice{name, label, name == u.Value})
		}
		s.Uses = append(s.Uses, u)
	}
}
