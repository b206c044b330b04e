package geofile

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// maxMembers is how many files an archive may hold: the list alone takes memory.
const maxMembers = 2000

// readZip reads the shapefile in an archive, or the one of several that is named.
func readZip(r io.ReaderAt, size int64, lim Limits, opt Options) (Layer, error) {
	files, err := openZip(r, size, lim)
	if err != nil {
		return Layer{}, err
	}
	layers := files.layers()
	name, err := choose(layers, opt.Layer)
	if err != nil {
		return Layer{}, err
	}
	return readShapefile(files, name, lim, opt)
}

func openZip(r io.ReaderAt, size int64, lim Limits) (parts, error) {
	if size > lim.Bytes {
		return nil, &LimitError{What: "bytes", Most: lim.Bytes}
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("%w: the zip archive is broken or cut short", ErrFormat)
	}
	if len(z.File) > maxMembers {
		return nil, fmt.Errorf("%w: the zip archive holds more than %d files", ErrFormat, maxMembers)
	}
	files := parts{}
	for _, f := range z.File {
		// What one kind of computer adds for itself, and folders.
		if strings.HasPrefix(f.Name, "__MACOSX/") || strings.HasPrefix(path.Base(f.Name), ".") || f.FileInfo().IsDir() {
			continue
		}
		files.add(f.Name, f.Open)
	}
	return files, nil
}

// choose finds the layer that is meant.
func choose(layers []string, wanted string) (string, error) {
	if wanted == "" && len(layers) == 1 {
		return layers[0], nil
	}
	for _, l := range layers {
		if wanted != "" && (strings.EqualFold(l, wanted) || strings.EqualFold(path.Base(l), wanted)) {
			return l, nil
		}
	}
	return "", &ChooseError{Layers: layers}
}

// parts are the files of shapefiles: by their name without the ending, then by
// the ending in small letters. Names are kept as they are, compared without case.
type parts map[string]*shapefileParts

type shapefileParts struct {
	name string
	open map[string]func() (io.ReadCloser, error)
}

func (p parts) add(name string, open func() (io.ReadCloser, error)) {
	ext := path.Ext(name)
	base := strings.TrimSuffix(name, ext)
	key := strings.ToLower(base)
	if p[key] == nil {
		p[key] = &shapefileParts{name: base, open: map[string]func() (io.ReadCloser, error){}}
	}
	p[key].open[strings.ToLower(ext)] = open
}

// layers lists the names of what has a .shp part.
func (p parts) layers() []string {
	var out []string
	for _, s := range p {
		if s.open[".shp"] != nil {
			out = append(out, s.name)
		}
	}
	slices.Sort(out)
	return out
}

// readShapefile reads one shapefile out of its parts.
func readShapefile(files parts, name string, lim Limits, opt Options) (_ Layer, err error) {
	s := files[strings.ToLower(name)]
	b := newBuilder(lim, opt)
	b.layer.Name = path.Base(s.name)
	left := lim.Bytes // of all parts together, unpacked
	text := func(ext string) string {
		if s.open[ext] == nil || err != nil {
			return ""
		}
		var data []byte
		data, err = readSmall(s.open[ext])
		return string(data)
	}
	prj, cpg := text(".prj"), text(".cpg")
	if err != nil {
		return Layer{}, zipError(err)
	}
	crs, err := fromWKT(prj)
	if err != nil {
		return Layer{}, err
	}
	b.layer.SRID, b.layer.WKT = crs.EPSG, crs.WKT
	shp, err := s.open[".shp"]()
	if err != nil {
		return Layer{}, zipError(err)
	}
	defer shp.Close()
	var rows *table
	if s.open[".dbf"] != nil {
		dbf, err := s.open[".dbf"]()
		if err != nil {
			return Layer{}, zipError(err)
		}
		defer dbf.Close()
		if rows, err = newTable(shared(dbf, &left, lim.Bytes), b, cpg); err != nil {
			return Layer{}, zipError(err)
		}
	} else if !opt.Any {
		return Layer{}, fmt.Errorf("%w: the part %s.dbf, with the table, is missing", ErrShapefile, b.layer.Name)
	}
	records, err := newShapes(shared(shp, &left, lim.Bytes), b)
	if err == nil {
		err = join(records, rows, b)
	}
	if err == nil {
		err = b.done()
	}
	if err != nil {
		return Layer{}, zipError(err)
	}
	return b.layer, nil
}

// join reads shapes and rows side by side.
func join(records *shapes, rows *table, b *builder) error {
	for {
		shape, err := records.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		row, deleted := map[string]string{}, false
		if rows != nil {
			row, deleted, err = rows.next()
			if errors.Is(err, io.EOF) {
				return fmt.Errorf("%w: its table has fewer rows than there are shapes", ErrShapefile)
			}
			if err != nil {
				return err
			}
		}
		if deleted {
			continue
		}
		if err := b.next(); err != nil {
			return err
		}
		if err := b.add(row, shape); err != nil {
			return err
		}
	}
}

// readSmall reads a part that is a line of text.
func readSmall(open func() (io.ReadCloser, error)) ([]byte, error) {
	f, err := open()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxWKT+1))
	if err == nil && len(data) > maxWKT {
		err = fmt.Errorf("%w: its .prj or .cpg part is too long", ErrShapefile)
	}
	return data, err
}

// zipError says in plain words what the archive says in its own.
func zipError(err error) error {
	switch {
	case errors.Is(err, zip.ErrChecksum), errors.Is(err, zip.ErrFormat), errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("%w: the zip archive is broken or cut short", ErrFormat)
	case errors.Is(err, zip.ErrAlgorithm):
		return fmt.Errorf("%w: the zip archive is packed in a way that cannot be read, or locked with a password", ErrFormat)
	case isInflate(err):
		return fmt.Errorf("%w: the zip archive is broken or cut short", ErrFormat)
	}
	return err
}

// shared bounds several readers together.
func shared(r io.Reader, left *int64, most int64) io.Reader { return &together{r, left, most} }

type together struct {
	r    io.Reader
	left *int64
	most int64
}

func (t *together) Read(p []byte) (int, error) {
	if int64(len(p)) > *t.left+1 {
		p = p[:*t.left+1]
	}
	n, err := t.r.Read(p)
	if *t.left -= int64(n); *t.left < 0 {
		return 0, &LimitError{What: "bytes", Most: t.most}
	}
	return n, err
}

// beside finds the parts of a shapefile in a folder: those named like its .shp.
func beside(folder fs.FS, shp string) (parts, error) {
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, err
	}
	base := strings.ToLower(strings.TrimSuffix(shp, path.Ext(shp)))
	files := parts{}
	for _, e := range entries {
		name := e.Name()
		if strings.ToLower(strings.TrimSuffix(name, path.Ext(name))) == base && !e.IsDir() {
			files.add(name, func() (io.ReadCloser, error) { return folder.Open(name) })
		}
	}
	return files, nil
}
