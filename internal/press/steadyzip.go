package press

import (
	"archive/zip"
	"bytes"
	"cmp"
	"compress/flate"
	"errors"
	"hash/crc32"
	"io"
	"io/fs"
	"slices"
	"time"
)

// steadyZip is an archive whose parts come in any order and are written in the
// order of their names, all of one day: the same parts give the same bytes. Parts
// are packed as they come.
type steadyZip struct {
	to    io.Writer
	day   time.Time
	parts []*zipPart
}

// zipPart packs what is written to it.
type zipPart struct {
	name string
	size uint64
	crc  uint32
	data bytes.Buffer
	pack *flate.Writer
}

func (p *zipPart) Write(b []byte) (int, error) {
	p.crc = crc32.Update(p.crc, crc32.IEEETable, b)
	p.size += uint64(len(b))
	return p.pack.Write(b)
}

// Create begins a part.
func (z *steadyZip) Create(name string) (io.Writer, error) {
	p := &zipPart{name: name}
	var err error
	if p.pack, err = flate.NewWriter(&p.data, flate.DefaultCompression); err != nil {
		return nil, err
	}
	z.parts = append(z.parts, p)
	return p, nil
}

// AddFS is asked for by the library's interface and never called.
func (z *steadyZip) AddFS(fs.FS) error { return errors.New("press: no folders in a workbook") }

// Close writes the archive. The list of contents comes first, as readers expect.
func (z *steadyZip) Close() error {
	first := func(p *zipPart) int {
		if p.name == "[Content_Types].xml" {
			return 0
		}
		return 1
	}
	slices.SortFunc(z.parts, func(a, b *zipPart) int { return cmp.Or(first(a)-first(b), cmp.Compare(a.name, b.name)) })
	out := zip.NewWriter(z.to)
	for _, p := range z.parts {
		if err := p.pack.Close(); err != nil {
			return err
		}
		h := &zip.FileHeader{Name: p.name, Method: zip.Deflate, CRC32: p.crc, CompressedSize64: uint64(p.data.Len()),
			UncompressedSize64: p.size, Modified: z.day}
		w, err := out.CreateRaw(h)
		if err != nil {
			return err
		}
		if _, err := p.data.WriteTo(w); err != nil {
			return err
		}
	}
	return out.Close()
}
