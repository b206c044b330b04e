package open

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/desk"
)

func TestBagsPage(t *testing.T) {
	office := newOffice()
	past := date(2026, time.November, 13)
	office.offices[1].LastDay = &past // Plover
	today := fakeToday
	office.offices[2].LastDay = &today // Bittern
	office.offices[3].LastDay = nil    // Cattail
	res, doc := get(t, growerDeps(office), "/bags")
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, 10, doc.Find(".office").Length())
	require.Equal(t, 10, doc.Find(`nav .counties a[href^="#"]`).Length())
	text := func(slug string) string { return doc.Find("#" + slug).Text() }
	require.Contains(t, text("sedge"), "Bring bags by December 4, 2026")
	require.Contains(t, text("sedge"), "12 Elevator Road, Sedge")
	require.Contains(t, text("plover"), "The last day was November 13, 2026")
	require.Contains(t, text("bittern"), "Bring bags by November 14, 2026", "the last day itself is not over")
	require.Contains(t, text("cattail"), "No last day")
	require.Contains(t, text("kestrel"), "No office is listed")
	require.Equal(t, 1, doc.Find(`#plover a[href="/county/plover"]`).Length())

	office.offices[0] = desk.Office{County: 1, Address: "<script>alert(1)</script>", Hours: "<script>x</script>", DropOff: "<script>"}
	_, doc = get(t, growerDeps(office), "/bags")
	require.Zero(t, doc.Find("main script").Length())
	require.Contains(t, doc.Find("#sedge").Text(), "alert(1)")

	office.places = nil
	_, doc = get(t, growerDeps(office), "/bags")
	require.Zero(t, doc.Find(".office").Length())
}
