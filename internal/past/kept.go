package past

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/assay"
)

// Kept is all that is kept of a row.
type Kept struct {
	Season    int
	Spot                   // the county twice where only that is known
	Farm      int          // number of the farm within the file, from 1; 0: the file does not say
	Method    assay.Method // zero: not known
	Report    assay.Report // as the file gave it; zero for a level only
	Reading   assay.Reading
	ClassOnly bool // the file gave a level: Reading is a stand-in that sorts into it
}

// levelNames are the classes of a scheme by what a file may call them: the
// class's own name and a few words for none and unconfirmed.
func levelNames(s assay.Scheme) map[string]assay.Class {
	out := map[string]assay.Class{}
	for _, c := range s.Classes {
		out[strings.ReplaceAll(c.Name, "_", " ")] = c
	}
	for kind, words := range map[assay.Kind][]string{
		assay.None:        {"none found", "not found", "not detected", "nd", "negative", "no eggs", "0"},
		assay.Unconfirmed: {"unconfirmed", "trace", "suspect"},
	} {
		for _, c := range s.Classes {
			for _, w := range words {
				if _, taken := out[w]; !taken && c.Kind == kind {
					out[w] = c
				}
			}
		}
	}
	return out
}

// StandIn is a reading that a level table sorts into the class, for results of
// which nothing but the class is known. Its density is nobody's count: it must
// not be shown, averaged, or sorted by another table.
func StandIn(s assay.Scheme, c assay.Class) assay.Reading {
	r := assay.Reading{Basis: assay.Reported}
	switch c.Kind {
	case assay.Unconfirmed:
		if r.Density = s.Trace; s.Trace == 0 {
			r.JuvenilesSeen = true // a table without a trace limit: seen, and no density
		}
	case assay.Found:
		r.Density = c.Upper
		if math.IsInf(float64(c.Upper), 1) {
			r.Density = 2 * max(s.Classes[c.Rank-1].Upper, s.Trace, 1)
		}
		r.CystSeen = r.Density <= s.Trace // the only way into such a class
	}
	return r
}

// digest sums up what would be kept of a file: the same rows, in whatever order,
// form, encoding or name of a farm, have the same digest. It is of nothing that
// is dropped.
func digest(rows []Kept, scheme assay.Scheme) string {
	var loose []string
	farms := map[int][]string{}
	for _, k := range rows {
		if text := k.canonical(scheme); k.Farm == 0 {
			loose = append(loose, text)
		} else {
			farms[k.Farm] = append(farms[k.Farm], text)
		}
	}
	sums := [][]byte{sumOf("loose", loose)}
	for _, lines := range farms {
		sums = append(sums, sumOf("farm", lines))
	}
	slices.SortFunc(sums[1:], bytes.Compare)
	h := sha256.New()
	for _, s := range sums {
		h.Write(s)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func sumOf(kind string, lines []string) []byte {
	slices.Sort(lines)
	sum := sha256.Sum256([]byte(kind + "\n" + strings.Join(lines, "\n")))
	return sum[:]
}

// canonical writes down what is kept in one way. Changing it makes files that
// were taken look new.
func (k Kept) canonical(s assay.Scheme) string {
	figure := strconv.FormatFloat(float64(k.Reading.Density), 'g', -1, 64)
	if k.ClassOnly {
		figure = fmt.Sprintf("%s.%d/%d", s.Key, s.Version, s.Class(k.Reading).Rank)
	}
	return fmt.Sprintf("1|%d|%d|%d|%s|%t|%s.%d", k.Season, k.Place, k.County, figure, k.Reading.CystSeen, k.Method.Name, k.Method.Version)
}
