package postgres

import (
	"context"
	"database/sql/driver"
	"encoding/hex"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/ewkb"
	"github.com/twpayne/go-geom/encoding/wkbcommon"
)

func init() {
	// A few hostile bytes may claim billions of points; refuse before allocating.
	wkbcommon.MaxGeometryElements = [4]int{0, 5_000_000, 500_000, 500_000}
}

// registerGeometry teaches a connection to carry PostGIS geometries as go-geom
// values, in extended well-known binary both ways.
func registerGeometry(ctx context.Context, c *pgx.Conn) error {
	var oid, array uint32
	err := c.QueryRow(ctx, `
		SELECT t.oid, t.typarray
		  FROM pg_type t
		 WHERE t.oid = to_regtype('public.geometry')`).Scan(&oid, &array)
	if err == pgx.ErrNoRows {
		return fmt.Errorf("the database has no PostGIS extension: run the set-up as its administrator")
	}
	if err != nil {
		return err
	}
	t := &pgtype.Type{Name: "geometry", OID: oid, Codec: geometryCodec{}}
	c.TypeMap().RegisterType(t)
	c.TypeMap().RegisterType(&pgtype.Type{Name: "_geometry", OID: array, Codec: &pgtype.ArrayCodec{ElementType: t}})
	return nil
}

type geometryCodec struct{}

func (geometryCodec) FormatSupported(int16) bool { return true }
func (geometryCodec) PreferredFormat() int16     { return pgtype.BinaryFormatCode }

func (geometryCodec) PlanEncode(_ *pgtype.Map, _ uint32, format int16, value any) pgtype.EncodePlan {
	if _, ok := value.(geom.T); !ok {
		return nil
	}
	return geometryEncode{text: format == pgtype.TextFormatCode}
}

type geometryEncode struct{ text bool }

func (p geometryEncode) Encode(value any, buf []byte) ([]byte, error) {
	g, ok := value.(geom.T)
	if !ok || g == nil {
		return nil, nil
	}
	b, err := ewkb.Marshal(g, ewkb.NDR)
	if err != nil {
		return nil, err
	}
	if p.text {
		return hex.AppendEncode(buf, b), nil
	}
	return append(buf, b...), nil
}

func (geometryCodec) PlanScan(_ *pgtype.Map, _ uint32, format int16, target any) pgtype.ScanPlan {
	if _, ok := target.(*geom.T); ok {
		return geometryScan{format}
	}
	return nil
}

type geometryScan struct{ format int16 }

func (p geometryScan) Scan(src []byte, dst any) error {
	g, err := decodeGeometry(p.format, src)
	if err == nil {
		*(dst.(*geom.T)) = g
	}
	return err
}

func decodeGeometry(format int16, src []byte) (geom.T, error) {
	if src == nil {
		return nil, nil
	}
	if format == pgtype.TextFormatCode {
		b, err := hex.DecodeString(string(src))
		if err != nil {
			return nil, err
		}
		src = b
	}
	return ewkb.Unmarshal(src)
}

func (geometryCodec) DecodeDatabaseSQLValue(_ *pgtype.Map, _ uint32, _ int16, src []byte) (driver.Value, error) {
	return append([]byte(nil), src...), nil
}

func (geometryCodec) DecodeValue(_ *pgtype.Map, _ uint32, format int16, src []byte) (any, error) {
	return decodeGeometry(format, src)
}
