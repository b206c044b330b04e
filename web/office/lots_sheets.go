package office

import (
	"bytes"
	"context"
	"net/http"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/fault"
	"sixmile/internal/place"
	"sixmile/internal/press"
)

// lotSheets prints a lot's bundles. The file is made whole before a byte of it
// is sent, so that a failure is a clean error.
func (o *office) lotSheets(w http.ResponseWriter, r *http.Request) error {
	id, ok := parseID(chi.URLParam(r, "id"))
	if !ok || id == (desk.ID{}) {
		return fault.ErrNotFound
	}
	bundles, county, err := o.Lots.Bundles(r.Context(), id)
	if err != nil {
		return err
	}
	places, err := o.Program.Places(r.Context())
	if err != nil {
		return err
	}
	year, err := o.seasonOf(r.Context(), id)
	if err != nil {
		return err
	}
	words, err := o.Lots.StubWords(r.Context(), id)
	if err != nil {
		return err
	}
	g, lang := newGazetteer(places), o.paperLang(r)
	sheets := bundleSheets(lang, bundles, words, g.name(o.Lang, county), year, o.BaseURL)
	var pdf bytes.Buffer
	if err := press.Bundles(&pdf, sheets, sheetWords(lang)); err != nil {
		return err
	}
	name := "bags-" + place.Slug(g.name(o.Lang, county)) + "-" + strconv.Itoa(year) + ".pdf"
	return showPDF(w, r, name, pdf.Bytes())
}

// seasonOf finds a lot's season: the newest is looked through first.
func (o *office) seasonOf(ctx context.Context, id desk.ID) (int, error) {
	seasons, err := o.Program.Seasons(ctx)
	if err != nil {
		return 0, err
	}
	for _, s := range seasons {
		lots, err := o.Lots.Lots(ctx, s.Year)
		if err != nil {
			return 0, err
		}
		for _, lot := range lots {
			if lot.ID == id {
				return s.Year, nil
			}
		}
	}
	return 0, fault.ErrNotFound
}

// bundleSheets is what is printed: a sheet a bundle. Bundles are not numbered,
// since a number would tell when a bag was handed out.
func bundleSheets(l *catalog.Lang, bundles [][]bag.Code, words map[bag.Code]bag.Words, county string, season int, base string) []press.BundleSheet {
	var out []press.BundleSheet
	for _, codes := range bundles {
		sheet := press.BundleSheet{Head: l.Count("lots.sheet.head", len(codes), "county", county, "year", strconv.Itoa(season))}
		for _, c := range codes {
			b := press.Bag{Code: c, URL: formURL(base, l, c)}
			if w, ok := words[c]; ok {
				b.Words = w.String()
			}
			sheet.Bags = append(sheet.Bags, b)
		}
		out = append(out, sheet)
	}
	return out
}

// formURL is the whole address of the public form for a bag: in English, as the
// reader's browser asks for.
func formURL(base string, l *catalog.Lang, c bag.Code) string {
	return strings.TrimRight(base, "/") + l.Prefix() + "/send?bag=" + string(c)
}

// paperLang is the language of a paper that goes to a grower.
func (o *office) paperLang(r *http.Request) *catalog.Lang {
	if es := catalog.Spanish(); r.FormValue("lang") == es.Code() {
		return es.At("/" + es.Code())
	}
	return o.Lang
}

func sheetWords(l *catalog.Lang) press.BagWords {
	return press.BagWords{
		Lang:      l.Tag(),
		Title:     l.Say("lots.sheet.title"),
		Intro:     l.Say("lots.sheet.intro"),
		Label:     l.Say("lots.sheet.label"),
		Slip:      l.Say("lots.sheet.slip"),
		Stub:      l.Say("lots.sheet.stub"),
		Cup:       l.Say("lots.sheet.cup"),
		LabelNote: l.Say("lots.sheet.label.note"),
		SlipNote:  l.Say("lots.sheet.slip.note"),
		StubNote:  l.Say("lots.sheet.stub.note"),
		Words:     l.Say("lots.sheet.words"),
		MyField:   l.Say("lots.sheet.myfield"),
		Footer:    l.Say("lots.sheet.footer"),
	}
}
