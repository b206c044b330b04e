//go:build pictures

package main

import (
	"bytes"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestPictures makes the README's pictures from the demo:
//
//	go test -tags pictures -run TestPictures ./cmd/sixmile
//
// It is behind a tag because it writes into testdata/pictures.
func TestPictures(t *testing.T) {
	w := startWalk(t)
	out := filepath.Join("..", "..", "testdata", "pictures")
	require.NoError(t, os.MkdirAll(out, 0o755))
	for _, p := range []struct {
		name, path    string
		width, height int64
		staff         bool
	}{
		{"county", "/county/quillmere", 1200, 1120, false},
		{"phone-county", "/county/quillmere", 390, 844, false},
		{"phone-send", "/send?county=quillmere", 390, 844, false},
		{"release", "/office/release", 1200, 900, true},
	} {
		ctx := w.browse(p.width, p.height)
		if p.staff {
			w.signIn(ctx, "coordinator")
		}
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.base+p.path)))
		w.waitFor(ctx, `document.fonts.status === "loaded" && document.readyState === "complete"`)
		shot, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(out, p.name+".png"), small(t, shot), 0o644))
	}
}

// small writes a picture again as tightly as it goes.
func small(t *testing.T, in []byte) []byte {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(in))
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, img))
	return b.Bytes()
}
