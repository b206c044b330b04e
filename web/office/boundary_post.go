package office

import (
	"context"
	"crypto/rand"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/fault"
	"sixmile/internal/geofile"
	"sixmile/internal/sample"
)

// maxGroundForm is the most bytes of a sending: two files and the few fields
// beside them.
const maxGroundForm = 2*maxGround + 64<<10

// maxPRJ is the most that is kept of a coordinate system as typed: far more than
// any definition needs.
const maxPRJ = 16 << 10

// groundSent is a form with files.
type groundSent struct {
	files  map[string]*groundFile
	fields url.Values
}

// errTooBig: a file is over maxGround.
var errTooBig = errors.New("office: the file is too large")

// receiveGround reads a form with files part by part into memory: nothing goes to
// temporary files.
func receiveGround(r *http.Request) (groundSent, error) {
	in := groundSent{files: map[string]*groundFile{}, fields: url.Values{}}
	parts, err := r.MultipartReader()
	if err != nil {
		return in, nil // no form with files: as if nothing had been sent
	}
	for range 16 {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return in, nil
		}
		if err != nil {
			return in, brokenOff(err)
		}
		role := part.FormName()
		if _, is := groundUses[role]; !is {
			b, err := io.ReadAll(io.LimitReader(part, maxPRJ))
			if err != nil {
				return in, brokenOff(err)
			}
			in.fields.Add(role, string(b))
			continue
		}
		b, err := io.ReadAll(io.LimitReader(part, maxGround+1))
		if err != nil {
			return in, brokenOff(err)
		}
		if len(b) > maxGround {
			return in, errTooBig
		}
		if len(b) > 0 {
			in.files[role] = &groundFile{Role: role, Name: shorten(part.FileName()), data: b}
		}
	}
	return in, nil
}

// errBrokenOff: the sending ended too early.
var errBrokenOff = errors.New("office: the sending broke off")

func brokenOff(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return errTooBig
	}
	return errBrokenOff
}

// boundariesPost takes in files of counties and townships.
func (o *office) boundariesPost(w http.ResponseWriter, r *http.Request) error {
	return o.takeFiles(w, r, []string{countyFile, townshipFile}, groundWish{})
}

// layersPost takes in the file of a reference layer, or changes the list.
func (o *office) layersPost(w http.ResponseWriter, r *http.Request) error {
	return o.takeFiles(w, r, []string{layerFile}, groundWish{Kind: "town", At: 1})
}

func (o *office) takeFiles(w http.ResponseWriter, r *http.Request, roles []string, wish groundWish) error {
	in, err := receiveGround(r)
	v := boundariesTyped{problems: map[string]string{}, kind: line(in.fields, "kind"), title: line(in.fields, "title"), at: line(in.fields, "position")}
	switch {
	case errors.Is(err, errTooBig):
		v.problems[roles[0]] = o.Lang.Say("boundary.problem.big", "mb", maxGround>>20)
	case err != nil:
		v.problems[roles[0]] = o.Lang.Say("boundary.problem.broken")
	}
	d := &groundDraft{wish: wish}
	for _, role := range roles {
		f := in.files[role]
		if f == nil {
			if v.problems[roles[0]] == "" {
				v.problems[role] = o.Lang.Say("boundary.problem.nofile")
			}
			continue
		}
		d.files = append(d.files, f)
	}
	if roles[0] == layerFile {
		d.wish.Kind, d.wish.Title = v.kind, v.title
		if _, known := geofile.Titles[v.kind]; !known {
			v.problems["kind"] = o.Lang.Say("boundary.problem.style")
		}
		if n, ok := position(v.at); ok {
			d.wish.At = n
		} else {
			v.problems["position"] = o.Lang.Say("boundary.problem.position")
		}
	}
	if len(v.problems) > 0 {
		return o.showBoundaries(w, r, http.StatusUnprocessableEntity, v)
	}
	if d.token, err = sample.NewToken(rand.Reader); err != nil {
		return err
	}
	if err := o.plats.put(d); err != nil {
		v.problems[roles[0]] = o.Lang.Say("boundary.busy")
		return o.showBoundaries(w, r, http.StatusConflict, v)
	}
	err = o.begin(r.Context(), groundKey(d), func(context.Context) (string, error) { o.survey(d); return "", nil })
	if err != nil {
		v.problems[roles[0]] = o.Lang.Say("boundary.busy")
		return o.showBoundaries(w, r, http.StatusConflict, v)
	}
	http.Redirect(w, r, groundKey(d), http.StatusSeeOther)
	return nil
}

// position reads a layer's place in the order; an empty one is the first.
func position(s string) (int, bool) {
	if s == "" {
		return 1, true
	}
	n, err := strconv.Atoi(s)
	return n, err == nil && n >= 1 && n <= 99
}

// groundKey is the page of files that were sent.
func groundKey(d *groundDraft) string { return "/office/boundaries/files/" + d.token.String() }

// filesPost reads files by what was picked, or gives them up.
func (o *office) filesPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	d, err := o.plats.find(chi.URLParam(r, "token"))
	if err != nil {
		return err
	}
	key := groundKey(d)
	if now := o.plats.look(key); now.Running {
		http.Redirect(w, r, key, http.StatusSeeOther) // pressed twice
		return nil
	}
	if form.Get("do") == "forget" {
		o.plats.drop()
		http.Redirect(w, r, "/office/boundaries", http.StatusSeeOther)
		return nil
	}
	var (
		wish     groundWish
		problems map[string]string
		forMaps  bool
	)
	o.plats.change(func() {
		wish, problems = o.readWish(d, form)
		d.wish, forMaps = wish, d.files[0].Role == layerFile
	})
	if len(problems) > 0 {
		return o.showFiles(w, r, http.StatusUnprocessableEntity, d, problems)
	}
	do := func(ctx context.Context) (string, error) { return o.layOut(ctx, d, wish) }
	switch {
	case form.Get("do") == "reread":
		do = func(context.Context) (string, error) {
			o.plats.change(func() { d.wish.Field = nil })
			o.survey(d)
			return "", nil
		}
	case forMaps:
		do = func(ctx context.Context) (string, error) { return "", o.layOn(ctx, d, wish) }
	}
	if err := o.begin(r.Context(), key, do); err != nil {
		return o.showFiles(w, r, http.StatusConflict, d, map[string]string{"": o.Lang.Say("boundary.busy")})
	}
	http.Redirect(w, r, key, http.StatusSeeOther)
	return nil
}

// readWish reads what was picked, and what is wrong with it by the name of its
// input.
func (o *office) readWish(d *groundDraft, form url.Values) (groundWish, map[string]string) {
	w := groundWish{Layer: map[string]string{}, CRS: map[string]string{}, Field: map[string]map[string]string{}, Kind: d.wish.Kind, Title: d.wish.Title, At: d.wish.At}
	problems := map[string]string{}
	reread := form.Get("do") == "reread"
	for _, f := range d.files {
		w.Layer[f.Role] = line(form, f.Role+"-layer")
		if w.Layer[f.Role] == "" {
			w.Layer[f.Role] = f.Layer
		}
		w.Field[f.Role] = map[string]string{}
		if typed := form.Get(f.Role + "-crs"); len(typed) <= maxPRJ {
			w.CRS[f.Role] = typed
		}
		if reread || len(f.Layers) > 0 {
			continue
		}
		for _, use := range groundUses[f.Role] {
			w.Field[f.Role][use] = line(form, f.Role+"-"+use)
		}
		if f.Role != layerFile && w.Field[f.Role]["code"] == "" {
			problems[f.Role+"-code"] = o.Lang.Say("boundary.problem.code")
		}
		if f.Says.Known() {
			continue
		}
		if _, err := geofile.ParseCRS(w.CRS[f.Role]); err != nil {
			problems[f.Role+"-crs"] = o.Lang.Say("boundary.problem.crs")
		}
	}
	return w, problems
}

// stagedPost accepts what was laid out, or discards it.
func (o *office) stagedPost(w http.ResponseWriter, r *http.Request) error {
	form, err := posted(r)
	if err != nil {
		return err
	}
	ticket, err := geofile.ParseTicket(chi.URLParam(r, "ticket"))
	if err != nil {
		return fault.ErrNotFound
	}
	key := stagedKey(ticket)
	if now := o.plats.look(key); now.Running || now.Then != "" {
		http.Redirect(w, r, key, http.StatusSeeOther) // pressed twice
		return nil
	}
	if form.Get("do") != "accept" {
		if err := o.Stages.Discard(r.Context(), ticket); err != nil {
			return err
		}
		http.Redirect(w, r, "/office/boundaries", http.StatusSeeOther)
		return nil
	}
	err = o.begin(r.Context(), key, func(ctx context.Context) (string, error) {
		done, err := o.Stages.AcceptStaged(ctx, ticket, o.Today(), o.plats.tell)
		if err != nil {
			return "", err
		}
		o.Log.Info("boundaries accepted", "set", done.Set, "counties", done.Counties, "townships", done.Townships)
		o.plats.change(func() { o.plats.draft = nil })
		return "/office/boundaries/sets/" + strconv.Itoa(done.Set) + "?accepted", nil
	})
	if err != nil {
		return fault.ErrConflict
	}
	http.Redirect(w, r, key, http.StatusSeeOther)
	return nil
}

func stagedKey(t geofile.Ticket) string { return "/office/boundaries/staged/" + t.String() }
