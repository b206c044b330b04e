package audit

import (
	"strconv"
	"strings"

	"github.com/PuerkitoBio/goquery"
)

// worthPage reads the counts of a county's page of what "none found" is worth:
// the bags without eggs of every place, and in how many townships it was found.
// What is worked out of them is no count and says nothing more than they do.
func (r *pageReader) worthPage(page *goquery.Selection) {
	townships, found := 0, 0
	page.Find("table.worth tbody tr").Each(func(_ int, row *goquery.Selection) {
		id := row.AttrOr("id", "")
		scope := Scope{County: r.county.ID}
		if slug, isTownship := strings.CutPrefix(id, "t-"); isTownship {
			townships++
			scope.Township = r.county.Townships[slug]
		} else if n, err := strconv.Atoi(strings.TrimPrefix(id, "joined-")); err == nil {
			scope.Joined = n
		}
		if scope.Township == 0 && scope.Joined == 0 {
			r.fail("a row of nothing known: %q", id)
			return
		}
		if label(row.Find("td.level")) == "found" && scope.Township > 0 {
			found++
		}
		if n := numbers(words(row.Find("td.num").First())); len(n) > 0 {
			r.claim(scope, NoneFound, n[0])
			r.claim(scope, Finds, "0")
		}
	})
	if townships != len(r.county.Townships) {
		r.fail("%d rows for %d townships", townships, len(r.county.Townships))
	}
	r.claim(Scope{County: r.county.ID}, FoundIn, strconv.Itoa(found))
}
