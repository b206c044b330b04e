package parcel

import (
	"context"
	"errors"
	"fmt"
	"iter"
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

// draw joins a table to its outlines. Both stream, in one order; see places.
func (p *parcel[C]) draw(ctx context.Context, d drawnTable) geofile.Drawn {
	t := d.table
	out := geofile.Drawn{Name: t.Name, Title: t.Title, About: t.About + " " + p.words.short()}
	for _, c := range t.Columns {
		out.Attributes = append(out.Attributes, geofile.Attribute{Name: c.Name, Kind: valueKind(c.Kind), About: c.About})
	}
	out.Attributes = append(out.Attributes, geofile.Attribute{Name: areaColumn, Kind: geofile.RealValue, About: p.o.Lang.Say("annual.about.area_km2")})
	out.Each = func(see func([]any, *geom.MultiPolygon) error) error {
		rows := newPlaces(t)
		defer rows.stop()
		err := p.o.Land.Outlines(ctx, p.b.Edition().Number, t.Drawn, func(id place.ID, outline *geom.MultiPolygon, area float64) error {
			row, err := rows.take(id)
			if err != nil {
				return err
			}
			return see(append(plain(row), float64(int(area*1000+0.5))/1000), outline)
		})
		if err != nil {
			return err
		}
		return rows.left()
	}
	return out
}

// places hands out the rows of a table by place. They are read only as far as they
// are asked for, and only those that were passed over are held: none, where they
// are asked for in their own order.
type places struct {
	ids    []place.ID // of the rows not read yet
	next   func() (row []any, err error, ok bool)
	stop   func()
	passed map[place.ID][]any
}

func newPlaces(t annual.Table) *places {
	p := &places{ids: t.Places, passed: make(map[place.ID][]any)}
	p.next, p.stop = iter.Pull2(func(yield func([]any, error) bool) {
		err := t.Each(func(row []any) error {
			if !yield(row, nil) {
				return errEnough
			}
			return nil
		})
		if err != nil && !errors.Is(err, errEnough) {
			yield(nil, err)
		}
	})
	return p
}

// errEnough ends a table of which no more rows are wanted.
var errEnough = errors.New("enough rows")

func (p *places) take(id place.ID) ([]any, error) {
	if row, there := p.passed[id]; there {
		delete(p.passed, id)
		return row, nil
	}
	for len(p.ids) > 0 {
		row, err, ok := p.next()
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		of := p.ids[0]
		if p.ids = p.ids[1:]; of == id {
			return row, nil
		}
		p.passed[of] = row
	}
	return nil, fmt.Errorf("%w: place %d", errLand, id)
}

// left is an error where rows were not asked for.
func (p *places) left() error {
	if n := len(p.ids) + len(p.passed); n > 0 {
		return fmt.Errorf("%w: %d have no outline", errLand, n)
	}
	return nil
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
