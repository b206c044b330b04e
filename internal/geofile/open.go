package geofile

import (
	"bytes"
	"compress/flate"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// Read reads a boundary file of any kind: GeoJSON (packed with gzip or not), a
// zipped shapefile, a GeoPackage. It goes by what the file begins with; name is
// for what people read. Only areas can be boundaries: a point or a line is
// reported.
//
// The error is a *Report if some features cannot be used, a *LimitError if the
// file is over a limit, a *ChooseError if it has several layers, or wraps
// ErrFormat, ErrShapefile, ErrGeoPackage, ErrNotGeoJSON or ErrCRS.
func Read(name string, r io.ReaderAt, size int64, lim Limits) (Layer, error) {
	return ReadWith(name, r, size, lim, Options{})
}

// ReadWith is Read with a say in what is read.
func ReadWith(name string, r io.ReaderAt, size int64, lim Limits, opt Options) (l Layer, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("%s: %w", filepath.Base(name), err)
		}
	}()
	if size > lim.Bytes {
		return l, &LimitError{What: "bytes", Most: lim.Bytes}
	}
	head := make([]byte, 16)
	n, err := r.ReadAt(head, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return l, err
	}
	whole := io.NewSectionReader(r, 0, size)
	switch head = head[:n]; {
	case bytes.HasPrefix(head, []byte("PK")):
		return readZip(r, size, lim, opt)
	case bytes.HasPrefix(head, []byte(sqliteMagic)):
		return readGeoPackage(r, size, lim, opt)
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		z, err := gzip.NewReader(whole)
		if err != nil {
			return l, fmt.Errorf("%w: the gzip archive is broken or cut short", ErrFormat)
		}
		l, err := readGeoJSON(z, lim, opt)
		if isInflate(err) || errors.Is(err, gzip.ErrChecksum) {
			err = fmt.Errorf("%w: the gzip archive is broken or cut short", ErrFormat)
		}
		return l, err
	case bytes.HasPrefix(head, []byte{0, 0, 0x27, 0x0a}):
		return l, fmt.Errorf("%w: this is one part of a shapefile; put all its parts (.shp, .dbf, .prj, .cpg) into one zip file", ErrFormat)
	case n > 0 && bytes.IndexByte([]byte("{[ \t\r\n\xef\xff\xfe"), head[0]) < 0:
		return l, fmt.Errorf("%w: it is no GeoJSON, no zipped shapefile and no GeoPackage", ErrFormat)
	}
	return readGeoJSON(whole, lim, opt)
}

func isInflate(err error) bool {
	var corrupt flate.CorruptInputError
	return errors.As(err, &corrupt)
}

// Layers lists the names of a file's layers, none for GeoJSON.
func Layers(name string, r io.ReaderAt, size int64, lim Limits) ([]string, error) {
	_, err := ReadWith(name, r, size, lim, Options{Layer: "\x00"}) // a name that no layer has
	var choose *ChooseError
	if errors.As(err, &choose) {
		return choose.Layers, nil
	}
	return nil, err
}

// ReadFile is ReadWith of a file on this computer. Of a shapefile that is not
// zipped it finds the other parts in the same folder.
func ReadFile(name string, lim Limits, opt Options) (Layer, error) {
	if strings.EqualFold(filepath.Ext(name), ".shp") {
		base := filepath.Base(name)
		files, err := beside(os.DirFS(filepath.Dir(name)), base)
		if err != nil {
			return Layer{}, err
		}
		layer, err := choose(files.layers(), "")
		if err != nil {
			return Layer{}, fmt.Errorf("%s: %w", base, os.ErrNotExist)
		}
		l, err := readShapefile(files, layer, lim, opt)
		if err != nil {
			err = fmt.Errorf("%s: %w", base, err)
		}
		return l, err
	}
	f, err := os.Open(name)
	if err != nil {
		return Layer{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return Layer{}, err
	}
	return ReadWith(name, f, info.Size(), lim, opt)
}
