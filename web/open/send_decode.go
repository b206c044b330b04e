package open

import (
	"net/url"
	"strconv"

	"sixmile/internal/sample"
)

// maxTyped is how much of one field is read. Nothing the form asks for is as
// long as this.
const maxTyped = 80

// formOf reads a visit as typed out of a posted form: the named fields and no
// others.
func formOf(in url.Values) sample.Form {
	f := sample.Form{Token: typed(in, "token")}
	for i := 0; i <= sample.MaxBags && in.Has(sample.Field(i, "grower")); i++ {
		get := func(name string) string { return typed(in, sample.Field(i, name)) }
		grower, err := strconv.Atoi(get("grower"))
		if err != nil {
			grower = -1 // refused by the rules
		}
		b := sample.FormBag{
			Grower: grower, Code: get("code"), County: get("county"), Township: get("township"), Day: get("day"),
			Harvest: get("harvest"), Crop: get("crop"), NextCrop: get("next_crop"), Resistance: get("resistance"),
			CropBefore: get("crop_before"), CropTwo: get("crop_two"), Tillage: get("tillage"),
			Texture: get("texture"), PH: get("ph"), Acres: get("acres"),
		}
		pick(&b, get("pick"))
		f.Bags = append(f.Bags, b)
	}
	for i := range sample.MaxBags {
		if !in.Has(standingField(i)) && !hasGrower(f, i) {
			break
		}
		f.Standings = append(f.Standings, typed(in, standingField(i)))
	}
	return f
}

// hidden lists a form's fields with what was typed, for carrying a form
// through a page that does not show it.
func hidden(f sample.Form) [][2]string {
	out := [][2]string{{"token", f.Token}}
	for i, b := range f.Bags {
		for _, field := range [][2]string{
			{"grower", strconv.Itoa(b.Grower)}, {"code", b.Code}, {"county", b.County}, {"township", b.Township}, {"day", b.Day},
			{"harvest", b.Harvest}, {"crop", b.Crop}, {"next_crop", b.NextCrop}, {"resistance", b.Resistance},
			{"crop_before", b.CropBefore}, {"crop_two", b.CropTwo}, {"tillage", b.Tillage},
			{"texture", b.Texture}, {"ph", b.PH}, {"acres", b.Acres},
		} {
			out = append(out, [2]string{sample.Field(i, field[0]), field[1]})
		}
	}
	for i, s := range f.Standings {
		out = append(out, [2]string{standingField(i), s})
	}
	return out
}

func standingField(grower int) string { return "standing." + strconv.Itoa(grower) }

func hasGrower(f sample.Form, grower int) bool {
	for _, b := range f.Bags {
		if b.Grower == grower {
			return true
		}
	}
	return false
}

func typed(in url.Values, name string) string {
	s := in.Get(name)
	if len(s) > maxTyped {
		s = s[:maxTyped]
	}
	return s
}
