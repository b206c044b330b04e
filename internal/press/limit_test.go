package press_test

import (
	"bytes"
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/atlas"
	"sixmile/internal/atlas/fixture"
	"sixmile/internal/press"
)

func TestParseTheme(t *testing.T) {
	for _, s := range press.Themes() {
		got, err := press.ParseTheme(s.String())
		require.NoError(t, err)
		require.Equal(t, s, got)
	}
	_, err := press.ParseTheme("neon")
	require.ErrorContains(t, err, "press.ParseTheme")
}

func TestPaintersRunSideBySide(t *testing.T) {
	t.Parallel()
	s := atlas.ComposeCounty(fixture.County(3), atlas.HalfLetter)
	doc := pdf(t, press.PDFOptions{}, s)
	first := picture(t, s, press.PrintSize, press.Color)
	var wait sync.WaitGroup
	for range 2 {
		wait.Go(func() {
			img, err := press.Picture(s, press.PrintSize, press.Color)
			if err != nil || !bytes.Equal(first.Pix, img.Pix) {
				t.Error("another picture", err)
			}
			var b bytes.Buffer
			err = press.PDF(&b, []atlas.Scene{s}, press.PDFOptions{Title: "Plover County", Lang: "en", Date: editionDay})
			if err != nil || !bytes.Equal(doc, b.Bytes()) {
				t.Error("another document", err)
			}
		})
	}
	wait.Wait()
}

func TestLimit(t *testing.T) {
	l := press.NewLimit(2)
	var now, most atomic.Int32
	var wait sync.WaitGroup
	for range 12 {
		wait.Go(func() {
			_ = l.Do(context.Background(), func() error {
				n := now.Add(1)
				for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
				}
				now.Add(-1)
				return nil
			})
		})
	}
	wait.Wait()
	require.LessOrEqual(t, most.Load(), int32(2))
	held, release := make(chan struct{}), make(chan struct{})
	one := press.NewLimit(0)
	wait.Go(func() { _ = one.Do(context.Background(), func() error { close(held); <-release; return nil }) })
	<-held
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	err := one.Do(ctx, func() error { t.Error("it ran"); return nil })
	require.ErrorIs(t, err, press.ErrBusy)
	require.ErrorIs(t, err, context.Canceled)
	close(release)
	wait.Wait()
	failed := fmt.Errorf("no")
	require.ErrorIs(t, one.Do(context.Background(), func() error { return failed }), failed, "room again, and the error comes through")
}

func FuzzParseTheme(f *testing.F) {
	for _, s := range []string{"ink", "dark", "", "Ink"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if z, err := press.ParseTheme(s); err == nil {
			require.Equal(t, s, z.String(), "one spelling each")
		}
	})
}
