package office

import (
	"net/http"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/account"
)

// The menu leads each person to pages that are there and open to them, and to
// every page that stands in it; where one is, is marked.
func TestMenu(t *testing.T) {
	w := newWorld(t)
	for _, role := range account.Roles {
		t.Run(string(role), func(t *testing.T) {
			desk := w.get(t, role, "/office")
			links := desk.Find(".office-menu a")
			require.Equal(t, links.Length() > 0, desk.Find(".office-menu").Length() == 1, "no empty menu")
			links.Each(func(_ int, a *goquery.Selection) {
				href, _ := a.Attr("href")
				page := w.get(t, role, href)
				require.Equal(t, http.StatusOK, page.status, href)
				require.Equal(t, "page", page.attr(`.office-menu a[href="`+href+`"]`, "aria-current"), href)
				require.Equal(t, strings.TrimSpace(a.Text()), strings.TrimSpace(page.Find(`.office-menu a[aria-current]`).Text()))
			})
			desk.Find(".office-groups a").Each(func(_ int, a *goquery.Selection) {
				href, _ := a.Attr("href")
				require.Equal(t, 1, desk.Find(`.office-menu a[href="`+href+`"]`).Length(), "a group leads to one of its pages")
			})
		})
	}
	clerk := w.get(t, account.Clerk, "/office")
	require.Zero(t, clerk.Find(`.office-menu a[href="/office/release"]`).Length())
}
