// Package describe sums up an office's own results, released or not, for people
// who plan: densities by fall and by what senders said of their fields, and which
// townships nothing is known of. It describes and explains nothing: senders choose
// themselves and their fields, so no difference between two rows is a cause.
// Nothing of it is for release.
package describe

import (
	"cmp"
	"slices"
	"strconv"

	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/place"
	"sixmile/internal/stat"
)

// Result is a signed result with what its sender said. It has no sample's number
// and no sender's.
type Result struct {
	County  place.ID
	Season  int
	Reading assay.Reading
	Level   bool // only a level is known: Reading's density is nobody's count
	Method  int  // the program's number; 0: not known
	Before  string
	Source  string // of resistance
	Texture string
	PH      string
}

// SmallestCell is how many results a row needs to have figures. Ours; no source.
const SmallestCell = 5

// Row describes results that have something in common.
type Row struct {
	Key     string // the answer; "" where it was not given; the year for a fall
	N       int    // results
	Small   bool   // fewer than SmallestCell: nothing else is told
	Finds   int
	Judged  int           // sure either way: found or none found
	Share   stat.Interval // of finds among those, 95 %
	HasRate bool

	Densities int     // results with a density
	Quarter   float64 // quantiles of these, eggs per 100 cm³
	Median    float64
	Upper     float64 // three quarters
	Ninety    float64
	Eggs      int     // with a density over zero
	Geometric float64 // mean of these; 0 for none
	Methods   []int   // in order; 0: not known
	Changed   bool    // of a fall: by other methods than the fall before
}

// By groups results, and orders the groups as keys lists them; others follow by
// name, and last what has no answer.
func By(results []Result, scheme assay.Scheme, keys []string, key func(Result) string) ([]Row, error) {
	groups := map[string][]Result{}
	for _, r := range results {
		groups[key(r)] = append(groups[key(r)], r)
	}
	var out []Row
	for k, group := range groups {
		row, err := describe(k, group, scheme)
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	rank := func(k string) int {
		if i := slices.Index(keys, k); i >= 0 {
			return i
		}
		if k == "" {
			return len(keys) + 1
		}
		return len(keys)
	}
	slices.SortFunc(out, func(a, b Row) int { return cmp.Or(cmp.Compare(rank(a.Key), rank(b.Key)), cmp.Compare(a.Key, b.Key)) })
	return out, nil
}

// BySeason groups results by fall, oldest first, and marks where the methods
// changed.
func BySeason(results []Result, scheme assay.Scheme) ([]Row, error) {
	out, err := By(results, scheme, nil, func(r Result) string { return strconv.Itoa(r.Season) })
	for i := 1; i < len(out); i++ {
		out[i].Changed = !slices.Equal(out[i].Methods, out[i-1].Methods)
	}
	return out, err
}

func describe(key string, group []Result, scheme assay.Scheme) (Row, error) {
	row := Row{Key: key, N: len(group)}
	for _, r := range group {
		if !slices.Contains(row.Methods, r.Method) {
			row.Methods = append(row.Methods, r.Method)
		}
	}
	slices.Sort(row.Methods)
	if row.Small = row.N < SmallestCell; row.Small {
		return row, nil
	}
	var all, eggs []float64
	for _, r := range group {
		switch scheme.Class(r.Reading).Kind {
		case assay.Found:
			row.Finds++
			row.Judged++
		case assay.None:
			row.Judged++
		}
		if r.Level || r.Reading.Basis == assay.CystsOnly {
			continue
		}
		all = append(all, float64(r.Reading.Density))
		if r.Reading.Density > 0 {
			eggs = append(eggs, float64(r.Reading.Density))
		}
	}
	row.Densities, row.Eggs = len(all), len(eggs)
	return row, row.figures(all, eggs)
}

// figures fills in shares and quantiles, where there is enough to take them from.
func (row *Row) figures(all, eggs []float64) (err error) {
	if row.Judged > 0 {
		if row.Share, err = stat.Wilson(row.Finds, row.Judged, stat.Confidence); err != nil {
			return err
		}
		row.HasRate = true
	}
	if len(all) >= SmallestCell {
		for p, to := range map[float64]*float64{0.25: &row.Quarter, 0.5: &row.Median, 0.75: &row.Upper, 0.9: &row.Ninety} {
			if *to, err = stat.Quantile(p, all); err != nil {
				return err
			}
		}
	} else {
		row.Densities = 0
	}
	if len(eggs) >= SmallestCell {
		row.Geometric, err = stat.GeometricMean(eggs)
	} else {
		row.Eggs = 0
	}
	return err
}

// Cover is what is known of a township.
type Cover struct {
	Place, County place.ID
	Results       int // signed results, of all falls
	Last          int // the newest fall with one; 0: never sampled
	Waiting       int // results that wait for a release
	Senders       int // surely different senders among them
	Lacks         []edition.Reason
}

// LongAgo is after how many falls without a result a township was sampled long
// ago. Ours; no source.
const LongAgo = 5

// Age says how long ago a township was sampled.
type Age string

// The ages.
const (
	Never  Age = "never"
	Long   Age = "long"
	Recent Age = "recent"
)

// Age is of a township as of a fall.
func (c Cover) Age(season int) Age {
	switch {
	case c.Last == 0:
		return Never
	case c.Last <= season-LongAgo:
		return Long
	}
	return Recent
}

// CountyCover sums a county's townships up.
type CountyCover struct {
	County                            place.ID
	Townships, Never, Long, Recent    int
	Results, Waiting, WaitingTownship int // results; those that wait; townships in which some do
}

// ByCounty sums up townships by county, in the order in which counties first come.
func ByCounty(covers []Cover, season int) []CountyCover {
	var out []CountyCover
	at := map[place.ID]int{}
	for _, c := range covers {
		i, there := at[c.County]
		if !there {
			i = len(out)
			at[c.County] = i
			out = append(out, CountyCover{County: c.County})
		}
		o := &out[i]
		if c.Place != c.County {
			o.Townships++
			switch c.Age(season) {
			case Never:
				o.Never++
			case Long:
				o.Long++
			default:
				o.Recent++
			}
			if c.Waiting > 0 {
				o.WaitingTownship++
			}
		}
		o.Results += c.Results
		o.Waiting += c.Waiting
	}
	return out
}
