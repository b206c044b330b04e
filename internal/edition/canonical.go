package edition

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Meta is what an edition says of itself.
type Meta struct {
	Number     int
	Kind       MetaKind
	Season     int
	Cutoff     time.Time // bags received by this day were gathered
	Released   time.Time
	K          int
	Scheme     int
	Ranks      Ranks
	Cuts       []float64 // the scheme's cut points, lowest first, in eggs per 100 cm³; the trace limit is the first
	Boundaries [32]byte  // digest of the boundary set
	Previous   [32]byte  // digest of the edition before; zero for the first
}

// MetaKind is how an edition came about.
type MetaKind string

// The kinds of edition.
const (
	Release  MetaKind = "release"
	Erratum  MetaKind = "erratum"
	Restated MetaKind = "restated"
)

// Canonical is the text of an edition's figures, the same bytes for ever. The
// digest is taken of it, and nothing that is public says more.
//
// The format is lines that end in one newline, of words separated by one
// space; every figure is a decimal integer; days are year-month-day. In order:
//
//	sixmile edition 1                  the format and its version
//	number 4
//	kind release                       release, erratum or restated
//	season 2026
//	cutoff 2026-12-31
//	released 2027-01-15
//	k 3
//	scheme 2
//	ranks none unconfirmed found found the kind of each class, lowest first
//	cuts 200 2000                      the cut points, lowest first; the first is the trace limit
//	boundaries 5f3a...                 64 hexadecimal digits
//	previous 0000...
//	tranche 1 county 7 township 23 senders 3 samples 5 fall 2026 counts 2 0 3
//	tranche 2 county 7 district 21,22,24 senders 3 samples 4 upto 2024 coarse 1 0 3
//	tranche 3 county 7 remainder 7 senders 3 samples 9 upto 2022 counts 9 0 0
//	joins 1 edition 2 tranche 5        tranche 1 holds all of an older one, which was recalled
//	again edition 3 tranche 8 samples 5 counts 2 0 3
//	fall 7 season 2026 samples 25 finds 10 highest 2
//	end
//
// Tranches, joins and what is counted again are in order of their numbers,
// places within one and fall figures in order of place. "fall" says that every bag is of that fall, "upto" that
// none is later. "counts" has a number for each rank, "coarse" the three of
// none, unconfirmed, found. A highest rank that is not told is a hyphen.
func Canonical(m Meta, tranches []Tranche, falls []FallFigure, again ...Recount) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "sixmile edition 1\nnumber %d\nkind %s\nseason %d\n", m.Number, m.Kind, m.Season)
	fmt.Fprintf(&b, "cutoff %s\nreleased %s\n", m.Cutoff.Format(time.DateOnly), m.Released.Format(time.DateOnly))
	fmt.Fprintf(&b, "k %d\nscheme %d\nranks", m.K, m.Scheme)
	for _, kind := range m.Ranks {
		fmt.Fprintf(&b, " %s", kind)
	}
	b.WriteString("\ncuts")
	for _, c := range m.Cuts {
		b.WriteString(" " + strconv.FormatFloat(c, 'f', -1, 64))
	}
	fmt.Fprintf(&b, "\nboundaries %x\nprevious %x\n", m.Boundaries, m.Previous)
	ordered := slices.SortedFunc(slices.Values(tranches), func(a, b Tranche) int { return compareRefs(a.Ref(), b.Ref()) })
	for _, t := range ordered {
		writeTranche(&b, t)
	}
	for _, t := range ordered {
		for _, j := range slices.SortedFunc(slices.Values(t.Joins), compareRefs) {
			fmt.Fprintf(&b, "joins %d edition %d tranche %d\n", t.ID, j.Edition, j.ID)
		}
	}
	for _, r := range slices.SortedFunc(slices.Values(again), func(a, b Recount) int { return compareRefs(a.Of, b.Of) }) {
		fmt.Fprintf(&b, "again edition %d tranche %d samples %d ", r.Of.Edition, r.Of.ID, r.Samples)
		writeCounts(&b, r.Coarse, r.Counts)
	}
	for _, f := range slices.SortedFunc(slices.Values(falls), func(a, b FallFigure) int {
		return cmp.Or(cmp.Compare(a.County, b.County), cmp.Compare(a.Season, b.Season))
	}) {
		highest := "-"
		if f.Highest != NotTold {
			highest = strconv.Itoa(f.Highest)
		}
		fmt.Fprintf(&b, "fall %d season %d samples %d finds %d highest %s\n",
			f.County, f.Season, f.Samples, f.Finds, highest)
	}
	b.WriteString("end\n")
	return b.Bytes()
}

func writeTranche(b *bytes.Buffer, t Tranche) {
	places := make([]string, 0, len(t.Places))
	for _, p := range slices.Sorted(slices.Values(t.Places)) {
		places = append(places, strconv.Itoa(int(p)))
	}
	window := "upto"
	if t.Window.ThisFall {
		window = "fall"
	}
	fmt.Fprintf(b, "tranche %d county %d %s %s senders %d samples %d %s %d ",
		t.ID, t.County, t.Kind, strings.Join(places, ","), t.Senders, t.Samples, window, t.Window.Through)
	writeCounts(b, t.Coarse, t.Counts)
}

func writeCounts(b *bytes.Buffer, coarse bool, counts []int) {
	word := "counts"
	if coarse {
		word = "coarse"
	}
	b.WriteString(word)
	for _, n := range counts {
		fmt.Fprintf(b, " %d", n)
	}
	b.WriteByte('\n')
}

// Digest is SHA-256 of the canonical text (FIPS 180-4).
func Digest(canonical []byte) [32]byte { return sha256.Sum256(canonical) }

// codeLetters are the digits and capital letters without 0, O, 1, I and L,
// which look alike on a photocopy.
const codeLetters = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"

// Code is the short code printed on every map of an edition, such as K7QF-2M:
// six of 31 letters, about 887 million codes. It is for finding an edition by
// search; it proves nothing, the digest does.
func Code(digest [32]byte) string {
	n := binary.BigEndian.Uint64(digest[:8])
	var c [6]byte
	for i := range c {
		c[i] = codeLetters[n%uint64(len(codeLetters))]
		n /= uint64(len(codeLetters))
	}
	return string(c[:4]) + "-" + string(c[4:])
}
