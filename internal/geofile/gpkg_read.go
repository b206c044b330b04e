package geofile

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/twpayne/go-geom"
	"modernc.org/sqlite"
	"modernc.org/sqlite/vfs"
)

// ErrGeoPackage is wrapped when a GeoPackage is broken or lacks what the
// standard asks for.
var ErrGeoPackage = errors.New("not a usable GeoPackage")

const sqliteMagic = "SQLite format 3\x00"

// Bounds on what a hostile database may make the machine do.
const (
	gpkgPatience = time.Minute
	gpkgMaxValue = 128 << 20 // of one shape, in bytes
	limitLength  = 0         // SQLITE_LIMIT_LENGTH, from SQLite's documentation
)

// readGeoPackage reads one layer of features. (OGC 12-128r18, GeoPackage 1.3,
// from memory; checked against files written by GDAL.) The file is read where it
// is, never written, and none of its triggers, views or functions is run.
func readGeoPackage(r io.ReaderAt, size int64, lim Limits, opt Options) (_ Layer, err error) {
	name, files, err := vfs.New(oneFile{r, size})
	if err != nil {
		return Layer{}, err
	}
	defer func() { err = errors.Join(err, files.Close()) }()
	db, err := sql.Open("sqlite", "file:"+theFile+"?mode=ro&immutable=1&vfs="+name+
		"&_pragma=trusted_schema(0)&_pragma=query_only(1)&_pragma=cell_size_check(1)&_pragma=temp_store(2)")
	if err != nil {
		return Layer{}, err
	}
	db.SetMaxOpenConns(1)
	defer func() { err = errors.Join(err, db.Close()) }()
	ctx, cancel := context.WithTimeout(context.Background(), gpkgPatience)
	defer cancel()
	conn, err := db.Conn(ctx)
	if err != nil {
		return Layer{}, gpkgError(err)
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	if _, err := sqlite.Limit(conn, limitLength, gpkgMaxValue); err != nil {
		return Layer{}, err
	}
	p := &gpkg{ctx: ctx, conn: conn, b: newBuilder(lim, opt)}
	if err := p.read(); err != nil {
		return Layer{}, gpkgError(err)
	}
	return p.b.layer, nil
}

// gpkgError keeps errors of ours and says the rest in plain words.
func gpkgError(err error) error {
	var over *LimitError
	var choose *ChooseError
	var report *Report
	var base *sqlite.Error
	switch {
	case errors.As(err, &over), errors.As(err, &choose), errors.As(err, &report), errors.Is(err, ErrGeoPackage), errors.Is(err, ErrCRS):
		return err
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("%w: it took longer than a minute to read", ErrGeoPackage)
	case errors.As(err, &base):
		return fmt.Errorf("%w: the file is broken or cut short", ErrGeoPackage)
	}
	return err
}

// gpkg reads from one open package.
type gpkg struct {
	ctx  context.Context
	conn *sql.Conn
	b    *builder
}

// gpkgLayer is a table of features.
type gpkgLayer struct {
	table, column string
	srs           int
}

func (p *gpkg) read() error {
	layers, err := p.layers()
	if err != nil {
		return err
	}
	names := make([]string, len(layers))
	for i, l := range layers {
		names[i] = l.table
	}
	name, err := choose(names, p.b.opt.Layer)
	if err != nil {
		return err
	}
	for _, l := range layers {
		if l.table == name {
			p.b.layer.Name = name
			if err := p.crs(l.srs); err != nil {
				return err
			}
			if err := p.features(l); err != nil {
				return err
			}
			return p.b.done()
		}
	}
	return nil
}

// layers lists the tables of features: plain tables only, since a view or a
// virtual table could run anything.
func (p *gpkg) layers() ([]gpkgLayer, error) {
	rows, err := p.conn.QueryContext(p.ctx, `
		SELECT m.name, g.column_name, g.srs_id
		  FROM gpkg_geometry_columns g
		  JOIN sqlite_master m ON m.name = g.table_name COLLATE NOCASE
		   AND m.type = 'table' AND m.sql LIKE 'CREATE TABLE%'
		 ORDER BY m.name
		 LIMIT 1000`)
	if err != nil {
		var base *sqlite.Error
		if errors.As(err, &base) && base.Code()&0xff == 1 { // SQLITE_ERROR: no such table
			return nil, fmt.Errorf("%w: it is a database without a list of layers", ErrGeoPackage)
		}
		return nil, err
	}
	defer rows.Close()
	var out []gpkgLayer
	for rows.Next() {
		var l gpkgLayer
		if err := rows.Scan(&l.table, &l.column, &l.srs); err != nil {
			return nil, fmt.Errorf("%w: its list of layers cannot be read", ErrGeoPackage)
		}
		out = append(out, l)
	}
	return out, rows.Err()
}

// crs looks the layer's coordinate system up. -1 and 0 are "not known".
func (p *gpkg) crs(id int) error {
	var who, definition string
	var code int
	err := p.conn.QueryRowContext(p.ctx, `
		SELECT organization, organization_coordsys_id, definition
		  FROM gpkg_spatial_ref_sys
		 WHERE srs_id = ?`, id).Scan(&who, &code, &definition)
	switch {
	case errors.Is(err, sql.ErrNoRows) || err == nil && id <= 0:
		return nil
	case err != nil:
		return err
	case strings.EqualFold(who, "EPSG") && code >= 1024:
		p.b.layer.SRID = code
		return nil
	case len(definition) > maxWKT:
		return fmt.Errorf("%w: its definition is too long", ErrCRS)
	}
	crs, err := fromWKT(definition)
	p.b.layer.SRID, p.b.layer.WKT = crs.EPSG, crs.WKT
	return err
}

func (p *gpkg) features(l gpkgLayer) error {
	rows, err := p.conn.QueryContext(p.ctx, `SELECT * FROM `+quoted(l.table))
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	if err := p.b.columns(len(columns)); err != nil {
		return err
	}
	values := make([]any, len(columns))
	into := make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		if err := p.b.next(); err != nil {
			return err
		}
		if err := rows.Scan(into...); err != nil {
			return err
		}
		if err := p.feature(l, columns, values); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (p *gpkg) feature(l gpkgLayer, columns []string, values []any) error {
	properties := make(map[string]string, len(columns)-1)
	var shape geom.T
	for i, c := range columns {
		if !strings.EqualFold(c, l.column) {
			if text, ok := gpkgText(values[i]); ok {
				properties[c] = text
			}
			continue
		}
		blob, _ := values[i].([]byte)
		body, err := gpkgBody(blob)
		if err == nil && body != nil {
			shape, err = readWKB(body, p.b)
		}
		var over *LimitError
		if errors.As(err, &over) {
			return err
		}
		if err != nil {
			p.b.problem(BadPosition, "")
			return nil
		}
	}
	return p.b.add(properties, shape)
}

// gpkgBody takes the header off a shape; nil is an empty or missing one.
func gpkgBody(blob []byte) ([]byte, error) {
	if len(blob) == 0 {
		return nil, nil
	}
	if len(blob) < 8 || blob[0] != 'G' || blob[1] != 'P' || blob[2] != 0 {
		return nil, errWKB
	}
	flags := blob[3]
	if flags&0x20 != 0 { // an extended type
		return nil, errWKB
	}
	envelope := int(flags >> 1 & 7)
	if envelope > 4 {
		return nil, errWKB
	}
	size := 8 + [5]int{0, 32, 48, 48, 64}[envelope]
	if len(blob) < size {
		return nil, errWKB
	}
	if flags&0x10 != 0 { // empty
		return nil, nil
	}
	return blob[size:], nil
}

// gpkgHeader is what goes before a shape: no envelope, little-endian.
func gpkgHeader(srid int) []byte {
	return binary.LittleEndian.AppendUint32([]byte{'G', 'P', 0, 1}, uint32(srid))
}

// gpkgText is a value as text; a blob has none.
func gpkgText(v any) (string, bool) {
	switch v := v.(type) {
	case nil:
		return "", true
	case string:
		return strings.ToValidUTF8(v, "\uFFFD"), true
	case int64:
		return strconv.FormatInt(v, 10), true
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64), true
	case bool:
		return strconv.FormatBool(v), true
	case time.Time:
		return v.Format(time.DateOnly), true
	}
	return "", false
}

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
