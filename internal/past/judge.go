package past

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"sixmile/internal/assay"
	"sixmile/internal/place"
	"sixmile/internal/tabular"
)

// ErrSystem: there is no coordinate system of that number.
var ErrSystem = errors.New("no such coordinate system")

// Ground finds places by their coordinates.
type Ground interface {
	// Locate gives the township of each point, else its county, else 0. The points
	// are kept nowhere.
	Locate(ctx context.Context, srid int, points []Point) ([]place.ID, error)
}

// Bad is a row that cannot be loaded as it is. It holds nothing of its cells.
type Bad struct {
	Line     int
	Problems map[tabular.Field]tabular.Problem
}

// MostBad is how many bad rows a verdict keeps.
const MostBad = 200

// Verdict is what a file comes to.
type Verdict struct {
	Rows, Townships, CountyOnly int // good rows by what their place is
	Grouped, Farms              int
	ClassOnly                   int
	Unknown, Strange            int // without a method, and those among them that name one not of the office's
	Found, Unconfirmed, None    int
	First, Last                 int // falls
	BadRows                     int
	Kinds                       map[tabular.Problem]int
	Bad                         []Bad // the first ones, by line
	Digest                      string
	Kept                        []Kept
}

// Ready reports whether the file can be loaded as it is.
func (v Verdict) Ready() bool { return v.BadRows == 0 && len(v.Kept) > 0 }

// batch is how many coordinates are looked up at once: few enough that a
// database has no reason to put them aside.
const batch = 500

// Judge gives every row of a file its verdict and stores nothing. told hears how
// many rows are read. Errors are those of Check, of tabular.Sheet.Cells and of
// the Ground.
func Judge(ctx context.Context, s *tabular.Sheet, m tabular.Mapping, with Setup, g *Gazetteer, ground Ground, told func(rows int)) (Verdict, error) {
	if err := Check(m); err != nil {
		return Verdict{}, fmt.Errorf("Judge: %w", err)
	}
	j := judge{verdict: Verdict{Kinds: map[tabular.Problem]int{}}, with: with, gazetteer: g, ground: ground, farms: map[string]int{}}
	reader := newReader(s, m, with, g)
	err := s.Cells(ctx, func(line int, cells []string) error {
		j.rows = append(j.rows, reader.row(line, cells))
		if len(j.rows) < batch {
			return nil
		}
		err := j.settle(ctx)
		told(j.verdict.Rows)
		return err
	})
	if err == nil {
		err = j.settle(ctx)
	}
	if err != nil {
		return Verdict{}, fmt.Errorf("Judge: %w", err)
	}
	v := j.verdict
	told(v.Rows)
	v.Farms = len(j.farms)
	slices.SortStableFunc(v.Bad, func(a, b Bad) int { return a.Line - b.Line })
	v.Digest = digest(v.Kept, with.Scheme)
	return v, nil
}

// judge holds the rows of a batch and what they came to.
type judge struct {
	verdict   Verdict
	with      Setup
	gazetteer *Gazetteer
	ground    Ground
	farms     map[string]int
	rows      []row
}

// settle looks up what a batch has of coordinates, and lets it go.
func (j *judge) settle(ctx context.Context) error {
	if err := j.locate(ctx); err != nil {
		return err
	}
	for i := range j.rows {
		j.take(&j.rows[i])
	}
	clear(j.rows)
	j.rows = j.rows[:0]
	return nil
}

func (j *judge) locate(ctx context.Context) error {
	var points []Point
	var of []*row
	for i := range j.rows {
		if r := &j.rows[i]; r.point != nil && len(r.problems) == 0 {
			points, of = append(points, *r.point), append(of, r)
		}
	}
	if len(points) == 0 {
		return nil
	}
	places, err := j.ground.Locate(ctx, j.with.SRID, points)
	if err != nil {
		return err
	}
	clear(points)
	for i, r := range of {
		spot, known := j.gazetteer.Spot(places[i])
		switch {
		case !known:
			r.note(X, Outside)
		case r.county != 0 && r.county != spot.County:
			r.note(County, OtherCounty)
		}
		r.kept.Spot, r.point = spot, nil
	}
	return nil
}

// take counts a row, and keeps it if it is good.
func (j *judge) take(r *row) {
	v := &j.verdict
	v.Rows++
	if len(r.problems) > 0 {
		v.BadRows++
		for _, p := range r.problems {
			v.Kinds[p]++
		}
		if len(v.Bad) < MostBad {
			v.Bad = append(v.Bad, Bad{r.line, r.problems})
		}
		return
	}
	k := r.kept
	if r.farm != "" {
		if j.farms[r.farm] == 0 {
			j.farms[r.farm] = len(j.farms) + 1
		}
		k.Farm = j.farms[r.farm]
		v.Grouped++
	}
	v.Kept = append(v.Kept, k)
	v.count(k, j.with.Scheme)
	if r.strange {
		v.Strange++
	}
}

func (v *Verdict) count(k Kept, s assay.Scheme) {
	if k.Place == k.County {
		v.CountyOnly++
	} else {
		v.Townships++
	}
	if k.ClassOnly {
		v.ClassOnly++
	}
	if k.Method.Name == "" {
		v.Unknown++
	}
	switch s.Class(k.Reading).Kind {
	case assay.Found:
		v.Found++
	case assay.Unconfirmed:
		v.Unconfirmed++
	default:
		v.None++
	}
	if v.First == 0 || k.Season < v.First {
		v.First = k.Season
	}
	v.Last = max(v.Last, k.Season)
}
