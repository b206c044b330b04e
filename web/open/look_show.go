package open

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"sixmile/internal/fault"
	"sixmile/internal/lookahead"
	"sixmile/web/shell"
)

// ahead shows the form and, where a density is given, what each rotation may
// come to. All of what is asked stands in the address.
func (k look) ahead(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	scheme, err := k.Table.Scheme(ctx)
	if err != nil {
		return err
	}
	newest, err := k.Outlooks.InForce(ctx)
	if err != nil {
		return err
	}
	form := readLook(r.URL.Query())
	set := newest
	if name, version, ok := splitLabel(form.Set); ok {
		old, err := k.Outlooks.Set(ctx, name, version)
		if err != nil && !errors.Is(err, fault.ErrNotFound) {
			return err
		}
		if err == nil {
			set = old
		}
	}
	held, err := k.against(set)
	if err != nil {
		return err
	}
	v := lookView{Form: form, Trials: trialRows(k.Lang, held), Levels: startLevels(scheme), Set: set, Newer: set.Label() != newest.Label(), Table: scheme.Title}
	status := http.StatusOK
	if v.Form.Asked {
		ask := v.Form.check(scheme)
		if len(v.Form.Problems) > 0 {
			status = http.StatusUnprocessableEntity
		} else {
			outlooks, err := k.take(ctx, set, ask.Field, ask.Plans, cutsOf(scheme))
			if err != nil {
				return err
			}
			v.answer(k.Lang, scheme, ask, outlooks)
		}
	}
	v.Form.Set = set.Label()
	p := k.page(k.Lang.Say("look.title"))
	p.Wide = true
	return shell.Render(w, r, status, lookPage(p, v))
}

// splitLabel takes a set's label apart.
func splitLabel(s string) (name string, version int, ok bool) {
	i := strings.LastIndexByte(s, '.')
	if i <= 0 {
		return "", 0, false
	}
	version, err := strconv.Atoi(s[i+1:])
	return s[:i], version, err == nil && version > 0
}

// aheadOf is the address that looks ahead from a density, rounded to two digits:
// it names no bag. Empty where there is no density.
func aheadOf(density int) string {
	if density <= 0 {
		return ""
	}
	return "/look-ahead?eggs=" + strconv.Itoa(min(twoDigits(float64(density)), lookahead.MaxEggs))
}
