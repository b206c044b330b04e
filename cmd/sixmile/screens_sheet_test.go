//go:build screens

package main

import (
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
)

// A contact sheet's cells, in pixels: the upper part of each page, small.
const (
	cellWide, cellHigh = 320, 420
	cellLabel          = 18
	cellsAcross        = 6
)

// contactSheet puts all pictures of a folder on one sheet beside the folder.
func contactSheet(t *testing.T, dir string) {
	files, err := filepath.Glob(filepath.Join(dir, "*.jpg"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	rows := (len(files) + cellsAcross - 1) / cellsAcross
	sheet := image.NewRGBA(image.Rect(0, 0, cellsAcross*(cellWide+8), rows*(cellHigh+cellLabel+8)))
	draw.Draw(sheet, sheet.Bounds(), image.NewUniform(color.Gray{0x77}), image.Point{}, draw.Src)
	for i, file := range files {
		at := image.Pt(i%cellsAcross*(cellWide+8), i/cellsAcross*(cellHigh+cellLabel+8))
		label := font.Drawer{Dst: sheet, Src: image.White, Face: basicfont.Face7x13, Dot: fixed.P(at.X+4, at.Y+13)}
		label.DrawString(strings.TrimSuffix(filepath.Base(file), ".jpg"))
		img := jpegFile(t, file)
		b := img.Bounds()
		high := min(b.Dy(), b.Dx()*cellHigh/cellWide)
		to := image.Rect(at.X, at.Y+cellLabel, at.X+cellWide, at.Y+cellLabel+high*cellWide/b.Dx())
		draw.ApproxBiLinear.Scale(sheet, to, img, image.Rect(b.Min.X, b.Min.Y, b.Max.X, b.Min.Y+high), draw.Src, nil)
	}
	f, err := os.Create(dir + ".jpg")
	require.NoError(t, err)
	require.NoError(t, jpeg.Encode(f, sheet, &jpeg.Options{Quality: 85}))
	require.NoError(t, f.Close())
}

func jpegFile(t *testing.T, path string) image.Image {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	img, err := jpeg.Decode(f)
	require.NoError(t, err, path)
	return img
}
