// Package markuptest looks over the markup of pages for tests: what a browser
// forgives in silence and a reader with a screen reader or a keyboard pays for.
package markuptest

import (
	"fmt"
	"strings"

	"github.com/PuerkitoBio/goquery"
)

// Problems are what is wrong with a page; none for a good one. A page is only
// looked at by itself: where its links lead elsewhere is not followed.
func Problems(d *goquery.Document) (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	ids := map[string]bool{}
	d.Find("[id]").Each(func(_ int, s *goquery.Selection) {
		id := s.AttrOr("id", "")
		if ids[id] {
			say("id %q stands twice", id)
		}
		ids[id] = true
	})
	for _, name := range []string{"for", "aria-describedby", "aria-labelledby", "aria-controls"} {
		d.Find("[" + name + "]").Each(func(_ int, s *goquery.Selection) {
			for id := range strings.FieldsSeq(s.AttrOr(name, "")) {
				if !ids[id] {
					say("%s of a %s leads to no %q", name, goquery.NodeName(s), id)
				}
			}
		})
	}
	d.Find(`a[href^="#"]`).Each(func(_ int, s *goquery.Selection) {
		if id := strings.TrimPrefix(s.AttrOr("href", ""), "#"); id != "" && !ids[id] {
			say("link #%s leads nowhere", id)
		}
	})
	d.Find("input:not([type=hidden]):not([type=submit]), select, textarea").Each(func(_ int, s *goquery.Selection) {
		labeled := s.AttrOr("aria-label", "")+s.AttrOr("aria-labelledby", "") != "" || s.Closest("label").Length() > 0
		if id := s.AttrOr("id", ""); id != "" {
			labeled = labeled || d.Find(fmt.Sprintf("label[for=%q]", id)).Length() > 0
		}
		if !labeled {
			say("%s %q has no label", goquery.NodeName(s), s.AttrOr("name", ""))
		}
	})
	last := 0
	d.Find("h1, h2, h3, h4, h5, h6").Each(func(_ int, s *goquery.Selection) {
		level := int(goquery.NodeName(s)[1] - '0')
		if last > 0 && level > last+1 {
			say("h%d %q follows h%d", level, strings.TrimSpace(s.Text()), last)
		}
		last = level
	})
	d.Find("option:not([label])").Each(func(_ int, s *goquery.Selection) {
		if strings.TrimSpace(s.Text()) == "" {
			say("an option of %q says nothing", s.Closest("select").AttrOr("name", ""))
		}
	})
	d.Find("button, a[href]").Each(func(_ int, s *goquery.Selection) {
		if s.Closest("svg").Length() > 0 {
			return // a drawing names its parts by itself
		}
		if strings.TrimSpace(s.Text())+s.AttrOr("aria-label", "")+s.Find("[aria-label], title").Text()+s.AttrOr("aria-labelledby", "") == "" && s.Find("[aria-label], img[alt]").Length() == 0 {
			say("a %s has no words", goquery.NodeName(s))
		}
	})
	return out
}
