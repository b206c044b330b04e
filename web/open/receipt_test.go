package open

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/place"
	"sixmile/internal/sample"
)

func TestReceiptPlaces(t *testing.T) {
	office := newOffice()
	g := newGround(office.places, office.seasons)
	codes := testCodes(t, 3)
	v := sample.Visit{Token: sample.Token{1}, Senders: []sample.Sender{
		{Bags: []sample.Bag{{Code: codes[0], Place: 201, Day: fakeToday}, {Code: codes[1], Place: 2, Day: fakeToday}}},
		{Bags: []sample.Bag{{Code: codes[2], Place: 100, Day: fakeToday}}},
	}}
	got, err := viewReceipt(v, sample.Form{}, g, nil, "https://x.example")
	require.NoError(t, err)
	require.Len(t, got.Bags, 3, "bags of all growers, in the form's order")
	require.Equal(t, place.ID(201), got.Bags[0].Township.ID)
	require.Equal(t, "Plover", got.Bags[0].County.Name)
	require.Nil(t, got.Bags[1].Township)
	require.Equal(t, "Plover", got.Bags[1].County.Name)
	require.Equal(t, "Sedge", got.Bags[2].County.Name)
	require.NotEqual(t, got.Bags[0].Note, got.Bags[1].Note)
}

func TestOrigin(t *testing.T) {
	request := func(header string) *http.Request {
		r := httptest.NewRequestWithContext(context.Background(), http.MethodGet, "http://soil.example.org:8080/send", io.NopCloser(nil))
		r.Header.Set("X-Forwarded-Proto", header)
		return r
	}
	g := &grower{}
	require.Equal(t, "http://soil.example.org:8080", g.origin(request("")))
	require.Equal(t, "https://soil.example.org:8080", g.origin(request("https")))
	require.Equal(t, "http://soil.example.org:8080", g.origin(request("javascript")))
	g.BaseURL = "https://set.example"
	require.Equal(t, "https://set.example", g.origin(request("")))
}
