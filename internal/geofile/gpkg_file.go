package geofile

import (
	"io"
	"io/fs"
	"time"
)

// theFile is the only file of a oneFile.
const theFile = "layer.gpkg"

// oneFile shows a reader as a file system of one file, for SQLite to read.
type oneFile struct {
	r    io.ReaderAt
	size int64
}

func (o oneFile) Open(name string) (fs.File, error) {
	if name != theFile {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &openFile{SectionReader: io.NewSectionReader(o.r, 0, o.size), size: o.size}, nil
}

type openFile struct {
	*io.SectionReader
	size int64
}

func (f *openFile) Close() error               { return nil }
func (f *openFile) Stat() (fs.FileInfo, error) { return fileInfo(f.size), nil }

type fileInfo int64

func (i fileInfo) Name() string       { return theFile }
func (i fileInfo) Size() int64        { return int64(i) }
func (i fileInfo) Mode() fs.FileMode  { return 0o400 }
func (i fileInfo) ModTime() time.Time { return time.Time{} }
func (i fileInfo) IsDir() bool        { return false }
func (i fileInfo) Sys() any           { return nil }
