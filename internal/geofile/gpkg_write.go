package geofile

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/twpayne/go-geom"
)

// WKT of the systems every GeoPackage lists; wgs84's is from the standard's
// annex (from memory).
const wgs84WKT = `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],` +
	`AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,` +
	`AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]`

// gpkgSchema makes the tables that GeoPackage 1.3 asks for.
const gpkgSchema = `
PRAGMA application_id = 0x47504B47;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (
    srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,
    organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
    table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '',
    last_change DATETIME NOT NULL DEFAULT '1970-01-01T00:00:00.000Z',
    min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
    CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
    table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
    srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
    CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
    CONSTRAINT uk_gc_table_name UNIQUE (table_name),
    CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
    CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
INSERT INTO gpkg_spatial_ref_sys VALUES
    ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', NULL),
    ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', NULL),
    ('WGS 84 geodetic', 4326, 'EPSG', 4326, '` + wgs84WKT + `', 'longitude and latitude in degrees');`

// WriteGeoPackage writes layers in longitude and latitude, each as a table by
// its name, properties as text. The same layers give the same bytes.
func WriteGeoPackage(w io.Writer, layers []Layer) (err error) {
	db, err := sql.Open("sqlite", "file::memory:?_pragma=temp_store(2)")
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	ctx := context.Background()
	conn, err := db.Conn(ctx)
	if err != nil {
		return fmt.Errorf("write GeoPackage: %w", err)
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, gpkgSchema); err != nil {
		return fmt.Errorf("write GeoPackage: %w", err)
	}
	for _, l := range layers {
		if err := writeTable(ctx, conn, l); err != nil {
			return fmt.Errorf("write GeoPackage: layer %s: %w", l.Name, err)
		}
	}
	return conn.Raw(func(c any) error {
		data, err := c.(interface{ Serialize() ([]byte, error) }).Serialize()
		if err != nil {
			return fmt.Errorf("write GeoPackage: %w", err)
		}
		_, err = w.Write(data)
		return err
	})
}

func writeTable(ctx context.Context, conn *sql.Conn, l Layer) error {
	if l.SRID != wgs84 {
		return fmt.Errorf("%w: only WGS 84 is written", ErrCRS)
	}
	fields := l.Fields()
	columns := []string{"fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", "geom " + l.gpkgType()}
	for _, f := range fields {
		columns = append(columns, quoted(f)+" TEXT")
	}
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	if _, err := tx.ExecContext(ctx, `CREATE TABLE `+quoted(l.Name)+` (`+strings.Join(columns, ", ")+`)`); err != nil {
		return err
	}
	insert, err := tx.PrepareContext(ctx, `INSERT INTO `+quoted(l.Name)+` VALUES (NULL`+strings.Repeat(", ?", len(fields)+1)+`)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	e := extent{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, f := range l.Features {
		shape := f.shape()
		e.add(shape.FlatCoords(), shape.Stride())
		row := []any{appendWKB(gpkgHeader(l.SRID), shape)}
		for _, name := range fields {
			if v, has := f.Properties[name]; has {
				row = append(row, v)
			} else {
				row = append(row, nil)
			}
		}
		if _, err := insert.ExecContext(ctx, row...); err != nil {
			return err
		}
	}
	bounds := []any{nil, nil, nil, nil}
	if len(l.Features) > 0 {
		bounds = []any{e.x0, e.y0, e.x1, e.y1}
	}
	if _, err := tx.ExecContext(ctx, `
		INSERT INTO gpkg_contents (table_name, data_type, identifier, min_x, min_y, max_x, max_y, srs_id)
		VALUES (?, 'features', ?, ?, ?, ?, ?, ?)`, append([]any{l.Name, l.Name}, append(bounds, l.SRID)...)...); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)`,
		l.Name, l.gpkgType(), l.SRID); err != nil {
		return err
	}
	return tx.Commit()
}

// shape is what a feature is drawn with.
func (f Feature) shape() geom.T {
	if f.Geometry != nil {
		return f.Geometry
	}
	return f.Sketch
}

// gpkgType is the type of a layer of one kind of shape, GEOMETRY for a mixture.
func (l Layer) gpkgType() string {
	kind := ""
	for _, f := range l.Features {
		name := "MULTIPOLYGON"
		switch f.shape().(type) {
		case *geom.MultiLineString:
			name = "MULTILINESTRING"
		case *geom.MultiPoint:
			name = "MULTIPOINT"
		}
		if kind != "" && kind != name {
			return "GEOMETRY"
		}
		kind = name
	}
	if kind == "" {
		return "GEOMETRY"
	}
	return kind
}

type extent struct{ x0, y0, x1, y1 float64 }

func (e *extent) add(flat []float64, stride int) {
	for i := 0; i+1 < len(flat); i += stride {
		e.x0, e.x1 = min(e.x0, flat[i]), max(e.x1, flat[i])
		e.y0, e.y1 = min(e.y0, flat[i+1]), max(e.y1, flat[i+1])
	}
}

// appendWKB writes a shape as little-endian well-known binary, two numbers a
// position.
func appendWKB(b []byte, shape geom.T) []byte {
	flat, stride := shape.FlatCoords(), shape.Stride()
	head := func(kind uint32, n int) {
		b = binary.LittleEndian.AppendUint32(append(b, 1), kind)
		if kind != wkbPoint {
			b = binary.LittleEndian.AppendUint32(b, uint32(n))
		}
	}
	positions := func(from, to int) {
		for i := from; i+1 < to; i += stride {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(flat[i]))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(flat[i+1]))
		}
	}
	start := 0
	switch shape := shape.(type) {
	case *geom.MultiPoint:
		head(wkbMultiPoint, len(flat)/stride)
		for i := 0; i+1 < len(flat); i += stride {
			head(wkbPoint, 0)
			positions(i, i+2)
		}
	case *geom.MultiLineString:
		head(wkbMultiLine, len(shape.Ends()))
		for _, end := range shape.Ends() {
			head(wkbLine, (end-start)/stride)
			positions(start, end)
			start = end
		}
	case *geom.MultiPolygon:
		head(wkbMultiPolygon, len(shape.Endss()))
		for _, ends := range shape.Endss() {
			head(wkbPolygon, len(ends))
			for _, end := range ends {
				b = binary.LittleEndian.AppendUint32(b, uint32((end-start)/stride))
				positions(start, end)
				start = end
			}
		}
	}
	return b
}
