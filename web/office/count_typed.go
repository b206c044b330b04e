package office

import (
	"errors"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/catalog"
)

// portions is how many portions of the suspension the form has room for.
const portions = assay.MaxAliquots

// isCode: the number is a bag's code, scanned into the wrong field.
const isCode assay.Problem = "is_code"

// typedCount is a count as it stands in the form, in the technician's own
// letters.
type typedCount struct {
	Code     string
	Method   string // key of the recipe chosen
	As       string // key of the recipe whose amounts were filled in
	Soil     string
	Water    string // the suspension, mL
	ML, Eggs [portions]string
	Cyst     bool
	Juvenile bool
	Replaces string // the result that stood when the form was shown
	Why      string // why it is to be replaced
}

func mlName(i int) string   { return "ml" + strconv.Itoa(i+1) }
func eggsName(i int) string { return "eggs" + strconv.Itoa(i+1) }

func readTyped(v url.Values) typedCount {
	t := typedCount{
		Code: line(v, "code"), Method: line(v, "method"), As: line(v, "as"),
		Soil: line(v, "soil"), Water: line(v, "water"),
		Cyst: v.Has("cyst"), Juvenile: v.Has("juvenile"),
		Replaces: line(v, "replaces"), Why: line(v, "why"),
	}
	for i := range portions {
		t.ML[i], t.Eggs[i] = line(v, mlName(i)), line(v, eggsName(i))
	}
	return t
}

// methodKey names a recipe in a form.
func methodKey(m assay.Method) string { return m.Name + "." + strconv.Itoa(m.Version) }

// findMethod is the recipe of a key, else the first; false when there is none.
func findMethod(methods []assay.Method, key string) (assay.Method, bool) {
	i := slices.IndexFunc(methods, func(m assay.Method) bool { return methodKey(m) == key })
	if i < 0 {
		i = 0
	}
	if len(methods) == 0 {
		return assay.Method{}, false
	}
	return methods[i], true
}

// amount writes a number the way ParseNumber reads it.
func amount(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// prefilled is an empty form for a bag with the amounts of a recipe.
func prefilled(code bag.Code, m assay.Method) typedCount {
	t := typedCount{Code: code.String(), Method: methodKey(m), As: methodKey(m), Soil: amount(m.SoilCM3), Water: amount(m.SuspensionML)}
	t.ML[0] = amount(m.AliquotML)
	return t
}

// follow puts the amounts of a newly chosen recipe in the place of those of the
// last one, where they stand as they were filled in. It tells whether the
// recipe was changed.
func (t *typedCount) follow(methods []assay.Method) bool {
	to, ok := findMethod(methods, t.Method)
	from, _ := findMethod(methods, t.As)
	t.Method = methodKey(to)
	if !ok || methodKey(to) == t.As {
		return false
	}
	for _, f := range []struct {
		at   *string
		from float64
		to   float64
	}{{&t.Soil, from.SoilCM3, to.SoilCM3}, {&t.Water, from.SuspensionML, to.SuspensionML}, {&t.ML[0], from.AliquotML, to.AliquotML}} {
		if *f.at == amount(f.from) {
			*f.at = amount(f.to)
		}
	}
	t.As = t.Method
	return true
}

// count reads the typed count, or says what is wrong, by the form's field names.
// Rows after the first may be left empty, whole.
func (t typedCount) count() (assay.Count, map[string]assay.Problem) {
	bad := map[string]assay.Problem{}
	number := func(name, s string) float64 {
		v, err := assay.ParseNumber(s)
		note(bad, name, s, err)
		return v
	}
	c := assay.Count{CystSeen: t.Cyst, JuvenilesSeen: t.Juvenile}
	var rows []int
	for i := range portions {
		if i > 0 && t.ML[i] == "" && t.Eggs[i] == "" {
			continue
		}
		eggs, err := assay.ParseEggs(t.Eggs[i])
		note(bad, eggsName(i), t.Eggs[i], err)
		c.Aliquots = append(c.Aliquots, assay.Aliquot{ML: number(mlName(i), t.ML[i]), Eggs: eggs})
		rows = append(rows, i)
	}
	c.SoilCM3, c.SuspensionML = number("soil", t.Soil), number("water", t.Water)
	if len(bad) > 0 {
		return c, bad
	}
	addInvalid(bad, c.Check(), rows)
	return c, bad
}

// note keeps the problem of one typed number.
func note(bad map[string]assay.Problem, name, typed string, err error) {
	var p assay.Problem
	if !errors.As(err, &p) {
		return
	}
	if _, notCode := bag.Parse(scanned(typed)); notCode == nil {
		p = isCode
	}
	bad[name] = p
}

// addInvalid brings what assay found wrong to the form's own fields. rows are
// the form's rows that the count's aliquots came from.
func addInvalid(bad map[string]assay.Problem, err error, rows []int) {
	var invalid *assay.Invalid
	if !errors.As(err, &invalid) {
		return
	}
	names := map[string]string{"soil": "soil", "suspension": "water", "aliquots": eggsName(0)}
	for i, row := range rows {
		names[fmt.Sprintf("aliquots.%d.ml", i)] = mlName(row)
		names[fmt.Sprintf("aliquots.%d.eggs", i)] = eggsName(row)
	}
	if invalid.Fields["aliquots"] == assay.MoreThanSuspension {
		names["aliquots"] = mlName(rows[len(rows)-1])
	}
	for at, p := range invalid.Fields {
		if name, ours := names[at]; ours {
			bad[name] = p
		}
	}
}

// problemText is the sentence for a problem at a field.
func problemText(l *catalog.Lang, name string, p assay.Problem) string {
	what := strings.TrimRight(name, "12345678")
	if p == assay.Missing || p == assay.TooLarge {
		return l.SayOf("count.problem", string(p)+"."+what)
	}
	return l.SayOf("count.problem", string(p))
}

// sameCount tells whether two counts say the same: the store adds portions up.
func sameCount(a, b assay.Count) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) <= 1e-9*math.Max(math.Abs(x), math.Abs(y)) }
	am, ae := looked(a)
	bm, be := looked(b)
	return ae == be && near(am, bm) && near(a.SoilCM3, b.SoilCM3) && near(a.SuspensionML, b.SuspensionML) &&
		a.CystSeen == b.CystSeen && a.JuvenilesSeen == b.JuvenilesSeen
}

// looked adds up the milliliters and the eggs of a count's portions.
func looked(c assay.Count) (ml float64, eggs int) {
	for _, a := range c.Aliquots {
		ml += a.ML
		eggs += a.Eggs
	}
	return ml, eggs
}
