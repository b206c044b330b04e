package tabular

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sixmile/internal/assay"
)

// Digest sums up what a file says, so that the same results are known again
// whatever they come in: another order of rows or columns, another encoding, a
// workbook in the place of a text. The zero Digest is ready to use.
type Digest struct{ sums [][sha256.Size]byte }

// Add takes in the entry of a row that is OK.
func (d *Digest) Add(e Entry) {
	d.sums = append(d.sums, sha256.Sum256([]byte(canonical(e))))
}

// Sum is the digest of what was added, in hexadecimal.
func (d *Digest) Sum() string {
	sorted := slices.Clone(d.sums)
	slices.SortFunc(sorted, func(a, b [sha256.Size]byte) int { return bytes.Compare(a[:], b[:]) })
	h := sha256.New()
	for _, s := range sorted {
		h.Write(s[:])
	}
	return hex.EncodeToString(h.Sum(nil))
}

// canonical writes an entry down in one way. Changing it makes files that were
// taken look new.
func canonical(e Entry) string {
	var b strings.Builder
	fmt.Fprintf(&b, "1|%s|%s|%s.%d|", string(e.Code), e.Day.Format("2006-01-02"), e.Method.Name, e.Method.Version)
	figure := func(v float64) { b.WriteString(strconv.FormatFloat(v, 'g', -1, 64) + "|") }
	if e.Reading.Basis == assay.Reported {
		figure(e.Report.Value)
		b.WriteString(e.Report.Unit.String() + "|")
		if e.Report.Unit.ByMass() {
			figure(e.Report.BulkDensity)
		}
	} else {
		figure(e.Count.SoilCM3)
		figure(e.Count.SuspensionML)
		for _, a := range e.Count.Aliquots {
			figure(a.ML)
			b.WriteString(strconv.Itoa(a.Eggs) + "|")
		}
	}
	fmt.Fprintf(&b, "%t|%t", e.Reading.CystSeen, e.Reading.JuvenilesSeen)
	return b.String()
}
