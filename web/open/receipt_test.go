package open

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"testing"

	qr "github.com/piglig/go-qr"
	"github.com/stretchr/testify/require"

	"sixmile/internal/place"
	"sixmile/internal/sample"
)

// The path that the page draws is read back by a decoder, as a photograph
// would be: module by module at eight pixels.
func TestSquareCodeReadsBack(t *testing.T) {
	for _, text := range []string{
		"https://soil.example.org/answer/AAAAAAAAAAAAAAAAAAAAAA",
		"http://a-rather-long-name-of-a-county-office.extension.example.edu:8080/answer/_-9zAAAAAAAAAAAAAAAAAA",
	} {
		code, err := newQR(text)
		require.NoError(t, err)
		got, err := qr.Decode(drawn(t, code))
		require.NoError(t, err)
		require.Equal(t, text, got)
	}
	_, err := newQR(string(bytes.Repeat([]byte("x"), 4000)))
	require.Error(t, err)
}

var run = regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`)

// drawn paints a code's path the way a browser does.
func drawn(t *testing.T, code qrCode) image.Image {
	const scale = 8
	img := image.NewGray(image.Rect(0, 0, code.Size*scale, code.Size*scale))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	require.Empty(t, run.ReplaceAllString(code.Path, ""), "the path holds runs and nothing else")
	for _, m := range run.FindAllStringSubmatch(code.Path, -1) {
		var n [4]int
		for i := range n {
			var err error
			n[i], err = strconv.Atoi(m[i+1])
			require.NoError(t, err)
		}
		require.Equal(t, n[2], n[3])
		require.GreaterOrEqual(t, min(n[0], n[1]), quietZone)
		require.LessOrEqual(t, max(n[0]+n[2], n[1]+1), code.Size-quietZone)
		for y := n[1] * scale; y < (n[1]+1)*scale; y++ {
			for x := n[0] * scale; x < (n[0]+n[2])*scale; x++ {
				img.SetGray(x, y, color.Gray{})
			}
		}
	}
	return img
}

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
