package geofile

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/twpayne/go-geom"
)

// ValueKind is what an attribute of a drawn table holds.
type ValueKind uint8

// The kinds, as the formats have them.
const (
	TextValue ValueKind = iota
	WholeValue
	RealValue
)

// Attribute is a column of a drawn table.
type Attribute struct {
	Name  string
	Kind  ValueKind
	About string
}

// Drawn is a table of figures with an outline a row, in longitude and latitude.
type Drawn struct {
	Name, Title, About string
	Attributes         []Attribute
	// Each hands on the rows, one at a time: a value for each attribute, a string, an
	// int, a float64 or nil, and the outline.
	Each func(see func(values []any, outline *geom.MultiPolygon) error) error
}

// Fact is a fact about a file as a whole: its edition, what is not in it.
type Fact struct{ Name, Text string }

var errValue = errors.New("a value is neither text nor a number")

// WriteDrawnGeoJSON writes a table as a feature collection (RFC 7946), numbers as
// numbers, one feature a line, as it comes. Notes are members of the collection
// beside its features, as the RFC allows (section 6.1).
func WriteDrawnGeoJSON(w io.Writer, d Drawn, notes []Fact) error {
	out := bufio.NewWriter(w)
	out.WriteString(`{"type":"FeatureCollection"`)
	for _, n := range append([]Fact{{"name", d.Name}}, notes...) {
		name, err := json.Marshal(n.Name)
		if err != nil {
			return err
		}
		text, err := json.Marshal(n.Text)
		if err != nil {
			return err
		}
		fmt.Fprintf(out, ",%s:%s", name, text)
	}
	out.WriteString(`,"features":[`)
	first := true
	err := d.Each(func(values []any, outline *geom.MultiPolygon) error {
		if !first {
			out.WriteByte(',')
		}
		first = false
		return writeDrawn(out, d.Attributes, values, outline)
	})
	if err != nil {
		return fmt.Errorf("write GeoJSON: %w", err)
	}
	out.WriteString("\n]}\n")
	if err := out.Flush(); err != nil { // a failed write above is kept and told here
		return fmt.Errorf("write GeoJSON: %w", err)
	}
	return nil
}

func writeDrawn(out *bufio.Writer, attributes []Attribute, values []any, outline *geom.MultiPolygon) error {
	out.WriteString("\n" + `{"type":"Feature","properties":{`)
	for i, a := range attributes {
		comma(out, i)
		name, err := json.Marshal(a.Name)
		if err != nil {
			return err
		}
		out.Write(name)
		out.WriteByte(':')
		switch v := values[i].(type) {
		case nil:
			out.WriteString("null")
		case string:
			text, err := json.Marshal(v)
			if err != nil {
				return err
			}
			out.Write(text)
		case int:
			out.WriteString(strconv.Itoa(v))
		case float64:
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return errNumber
			}
			out.WriteString(strconv.FormatFloat(v, 'f', -1, 64))
		default:
			return fmt.Errorf("%w: %s is a %T", errValue, a.Name, v)
		}
	}
	out.WriteString(`},"geometry":`)
	if outline == nil {
		out.WriteString("null}")
		return nil
	}
	out.WriteString(`{"type":"`)
	if err := writeShape(out, outline); err != nil {
		return err
	}
	out.WriteString("}}")
	return nil
}

// WriteDrawnGeoPackage writes tables as a GeoPackage, numbers as numbers, and the
// notes as a table of their own. The same tables give the same bytes.
func WriteDrawnGeoPackage(ctx context.Context, w io.Writer, tables []Drawn, notes []Fact) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("write GeoPackage: %w", err)
		}
	}()
	db, err := sql.Open("sqlite", "file::memory:?_pragma=temp_store(2)")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	if _, err := conn.ExecContext(ctx, gpkgSchema); err != nil {
		return err
	}
	for _, d := range tables {
		if err := writeDrawnTable(ctx, conn, d); err != nil {
			return fmt.Errorf("%s: %w", d.Name, err)
		}
	}
	if err := writeNotes(ctx, conn, notes); err != nil {
		return err
	}
	return conn.Raw(func(c any) error {
		data, err := c.(interface{ Serialize() ([]byte, error) }).Serialize()
		if err != nil {
			return err
		}
		_, err = w.Write(data)
		return err
	})
}

func writeDrawnTable(ctx context.Context, conn *sql.Conn, d Drawn) error {
	types := map[ValueKind]string{TextValue: "TEXT", WholeValue: "INTEGER", RealValue: "REAL"}
	columns := []string{"fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", "geom MULTIPOLYGON"}
	for _, a := range d.Attributes {
		columns = append(columns, quoted(a.Name)+" "+types[a.Kind])
	}
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	if _, err := tx.ExecContext(ctx, `CREATE TABLE `+quoted(d.Name)+` (`+strings.Join(columns, ", ")+`)`); err != nil {
		return err
	}
	insert, err := tx.PrepareContext(ctx, `INSERT INTO `+quoted(d.Name)+` VALUES (NULL`+strings.Repeat(", ?", len(d.Attributes)+1)+`)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	e, drawn := extent{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}, false
	err = d.Each(func(values []any, outline *geom.MultiPolygon) error {
		row := make([]any, 0, len(values)+1)
		if outline == nil {
			row = append(row, nil)
		} else {
			drawn = true
			e.add(outline.FlatCoords(), outline.Stride())
			row = append(row, appendWKB(gpkgHeader(wgs84), outline))
		}
		_, err := insert.ExecContext(ctx, append(row, values...)...)
		return err
	})
	if err != nil {
		return err
	}
	bounds := []any{nil, nil, nil, nil}
	if drawn {
		bounds = []any{e.x0, e.y0, e.x1, e.y1}
	}
	if _, err := tx.ExecContext(ctx, `
		INSERT INTO gpkg_contents (table_name, data_type, identifier, description, min_x, min_y, max_x, max_y, srs_id)
		VALUES (?, 'features', ?, ?, ?, ?, ?, ?, ?)`, append([]any{d.Name, d.Title, d.About}, append(bounds, wgs84)...)...); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', 'MULTIPOLYGON', ?, 0, 0)`, d.Name, wgs84); err != nil {
		return err
	}
	return tx.Commit()
}

// writeNotes writes a table without shapes, which the standard calls attributes.
func writeNotes(ctx context.Context, conn *sql.Conn, notes []Fact) error {
	if len(notes) == 0 {
		return nil
	}
	if _, err := conn.ExecContext(ctx, `
		CREATE TABLE about (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, name TEXT NOT NULL, text TEXT NOT NULL);
		INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES ('about', 'attributes', 'about')`); err != nil {
		return err
	}
	for _, n := range notes {
		if _, err := conn.ExecContext(ctx, `INSERT INTO about (name, text) VALUES (?, ?)`, n.Name, n.Text); err != nil {
			return err
		}
	}
	return nil
}
