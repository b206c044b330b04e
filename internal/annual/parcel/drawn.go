package parcel

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/twpayne/go-geom"

	"sixmile/internal/annual"
	"sixmile/internal/geofile"
	"sixmile/internal/place"
)

// drawnTable is a table with a row a place.
type drawnTable struct{ table annual.Table }

// drawn are the tables that can be put on a map. None of the office's own can: a
// sheet of it has no places.
func (p *parcel[C]) drawn() (out []drawnTable) {
	for _, t := range p.b.Tables() {
		if t.Places != nil {
			out = append(out, drawnTable{t})
		}
	}
	return out
}

// areaColumn is beside the columns of the table.
const areaColumn = "area_km2"

// errLand: boundaries and rows are not of the same places.
var errLand = errors.New("the boundaries have other places than the edition")

// draw joins a table to its outlines, which stream; the rows are held by place.
func (p *parcel[C]) draw(ctx context.Context, d drawnTable) geofile.Drawn {
	t := d.table
	out := geofile.Drawn{Name: t.Name, Title: t.Title, About: t.About + " " + p.words.short()}
	for _, c := range t.Columns {
		out.Attributes = append(out.Attributes, geofile.Attribute{Name: c.Name, Kind: valueKind(c.Kind), About: c.About})
	}
	out.Attributes = append(out.Attributes, geofile.Attribute{Name: areaColumn, Kind: geofile.RealValue, About: p.o.Lang.Say("annual.about.area_km2")})
	out.Each = func(see func([]any, *geom.MultiPolygon) error) error {
		rows, err := rowsByPlace(t)
		if err != nil {
			return err
		}
		seen := 0
		err = p.o.Land.Outlines(ctx, p.b.Edition().Number, t.Drawn, func(id place.ID, outline *geom.MultiPolygon, area float64) error {
			row, there := rows[id]
			if !there {
				return fmt.Errorf("%w: place %d", errLand, id)
			}
			seen++
			return see(append(plain(row), float64(int(area*1000+0.5))/1000), outline)
		})
		if err == nil && seen != len(rows) {
			err = fmt.Errorf("%w: %d of %d", errLand, seen, len(rows))
		}
		return err
	}
	return out
}

func rowsByPlace(t annual.Table) (map[place.ID][]any, error) {
	out := make(map[place.ID][]any, len(t.Places))
	i := 0
	err := t.Each(func(row []any) error {
		out[t.Places[i]] = row
		i++
		return nil
	})
	return out, err
}

// plain writes days as text: neither format of maps has them in common.
func plain(row []any) []any {
	out := make([]any, len(row), len(row)+1)
	for i, v := range row {
		if d, is := v.(time.Time); is {
			v = d.Format(time.DateOnly)
		}
		out[i] = v
	}
	return out
}

func valueKind(k annual.Kind) geofile.ValueKind {
	switch k {
	case annual.Whole, annual.Year:
		return geofile.WholeValue
	case annual.Share, annual.Measure, annual.Money:
		return geofile.RealValue
	}
	return geofile.TextValue
}
