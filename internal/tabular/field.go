package tabular

import (
	"strconv"
	"strings"
	"unicode"

	"sixmile/internal/assay"
)

// Field is what a column holds. The zero Field is a column nobody asked for.
type Field string

// The fields. Eggs and milliliters are numbered by portion: see EggsOf, MLOf.
const (
	Code        Field = "code"
	Day         Field = "day"
	Method      Field = "method"
	Soil        Field = "soil"       // cm³
	Suspension  Field = "suspension" // mL
	ML          Field = "ml"         // mL of every portion that has none of its own
	Cyst        Field = "cyst"
	Juveniles   Field = "juveniles"
	Density     Field = "density" // as a lab reports it
	UnitField   Field = "unit"
	BulkDensity Field = "bulk_density" // g/cm³
)

// EggsOf is the field of the eggs of portion i, from 1 to assay.MaxAliquots.
func EggsOf(i int) Field { return Field("eggs_" + strconv.Itoa(i)) }

// MLOf is the field of the milliliters of portion i.
func MLOf(i int) Field { return Field("ml_" + strconv.Itoa(i)) }

// Fields lists all fields in the order of a template.
func Fields() []Field {
	fields := []Field{Code, Day, Method, Soil, Suspension, ML}
	for i := 1; i <= assay.MaxAliquots; i++ {
		fields = append(fields, EggsOf(i), MLOf(i))
	}
	return append(fields, Cyst, Juveniles, Density, UnitField, BulkDensity)
}

// Column is what a column of a file holds. A density column may say its unit in
// the header, "eggs per 250 cc".
type Column struct {
	Field Field      `json:"field"`
	Unit  assay.Unit `json:"unit,omitempty"`
}

// Fold brings a header to the form by which it is remembered and looked up:
// lower case, letters and digits only, words parted by one space, ³ as 3.
func Fold(header string) string {
	var b strings.Builder
	gap := false
	for _, r := range header {
		switch {
		case r == '³':
			r = '3'
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			gap = true
			continue
		}
		if gap && b.Len() > 0 {
			b.WriteByte(' ')
		}
		gap = false
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// guess finds the column that a header means by itself; the zero Column when it
// means nothing here.
func guess(header string) Column {
	folded := Fold(header)
	if f, known := synonyms()[folded]; known {
		return Column{Field: f}
	}
	if u := unitOf(folded); u != 0 {
		return Column{Field: Density, Unit: u}
	}
	return Column{Field: numbered(folded)}
}

// synonyms are the headers that labs write, folded. Common practice; no source.
func synonyms() map[string]Field {
	return map[string]Field{
		"code": Code, "bag": Code, "bag code": Code, "bag no": Code, "bag number": Code, "sample": Code,
		"sample code": Code, "sample id": Code, "sample number": Code, "barcode": Code, "id": Code,
		"day": Day, "date": Day, "day counted": Day, "date counted": Day, "counted": Day, "counted on": Day, "count date": Day,
		"method": Method, "recipe": Method, "procedure": Method,
		"soil": Soil, "soil cm3": Soil, "soil cc": Soil, "soil volume": Soil, "soil volume cm3": Soil, "cm3 soil": Soil, "cc soil": Soil, "soil in cm3": Soil,
		"suspension": Suspension, "suspension ml": Suspension, "ml suspension": Suspension, "total ml": Suspension,
		"final volume": Suspension, "final volume ml": Suspension, "water ml": Suspension, "suspension in ml": Suspension,
		"ml": ML, "aliquot": ML, "aliquot ml": ML, "ml counted": ML, "ml looked at": ML, "volume counted ml": ML, "slide ml": ML,
		"eggs": EggsOf(1), "egg count": EggsOf(1), "eggs counted": EggsOf(1), "eggs seen": EggsOf(1), "count": EggsOf(1),
		"cyst": Cyst, "cysts": Cyst, "cyst seen": Cyst, "cysts seen": Cyst, "cyst found": Cyst,
		"juveniles": Juveniles, "juveniles seen": Juveniles, "j2": Juveniles, "j2 seen": Juveniles, "juvenile": Juveniles,
		"density": Density, "egg density": Density, "reported density": Density, "reported": Density,
		"unit": UnitField, "units": UnitField, "density unit": UnitField, "per": UnitField,
		"bulk density": BulkDensity, "bulk density g cm3": BulkDensity, "soil density": BulkDensity, "bulk density in g cm3": BulkDensity,
	}
}

// numbered reads headers of portions: "eggs 3", "count 3", "eggs in portion 3",
// "ml 3", "aliquot 3 ml".
func numbered(folded string) Field {
	words := strings.Fields(folded)
	number, rest := 0, make([]string, 0, len(words))
	for _, w := range words {
		if n, err := strconv.Atoi(w); err == nil && number == 0 && n >= 1 && n <= assay.MaxAliquots {
			number = n
			continue
		}
		rest = append(rest, w)
	}
	if number == 0 {
		return ""
	}
	switch strings.Join(rest, " ") {
	case "eggs", "egg count", "count", "eggs counted", "eggs seen", "eggs in portion", "eggs slide", "slide eggs", "aliquot eggs", "eggs aliquot", "portion eggs", "slide":
		return EggsOf(number)
	case "ml", "aliquot ml", "ml aliquot", "aliquot", "slide ml", "ml slide", "portion ml", "ml in portion", "ml of portion":
		return MLOf(number)
	}
	return ""
}

// unitOf reads a unit as people write it, "per 100 cm3", "eggs per 250 cc",
// "eggs 100 g", or by its key; zero for none.
func unitOf(s string) assay.Unit {
	folded := Fold(strings.ReplaceAll(s, "_", " "))
	folded = strings.TrimPrefix(folded, "eggs ")
	folded = strings.TrimPrefix(strings.TrimPrefix(folded, "per "), "a ")
	folded = strings.TrimSuffix(strings.TrimSuffix(folded, " of soil"), " soil")
	switch strings.ReplaceAll(folded, " ", "") {
	case "100cm3", "100cc", "100ccm", "100ml":
		return assay.Per100CM3
	case "200cm3", "200cc", "200ccm", "200ml":
		return assay.Per200CM3
	case "250cm3", "250cc", "250ccm", "250ml":
		return assay.Per250CM3
	case "500cm3", "500cc", "500ccm", "500ml":
		return assay.Per500CM3
	case "100g", "100grams":
		return assay.Per100G
	case "kg", "1kg", "kilogram":
		return assay.PerKG
	}
	return 0
}
