package desk

import (
	"slices"

	"sixmile/internal/assay"
	"sixmile/internal/bag"
)

// Target is what stands for a bag that a file has a result of.
type Target struct {
	Void   bool
	Place  bool // a form, a slip or an assumption says where it is from
	Head   ID   // the result that stands; zero for none
	Method assay.Method
	Count  assay.Count
	Given  assay.Report
	Is     assay.Reading
}

// Same reports whether the result that stands says what a row says.
func (t Target) Same(k Keyed) bool {
	if t.Head == (ID{}) || t.Method.Name != k.Method.Name || t.Method.Version != k.Method.Version {
		return false
	}
	if k.Report.Unit != 0 {
		return t.Is.Basis == assay.Reported && t.Given == k.Report
	}
	return t.Is.Basis == assay.Counted && t.Count.SoilCM3 == k.Count.SoilCM3 && t.Count.SuspensionML == k.Count.SuspensionML &&
		t.Count.CystSeen == k.Count.CystSeen && t.Count.JuvenilesSeen == k.Count.JuvenilesSeen &&
		slices.Equal(t.Count.Aliquots, k.Count.Aliquots)
}

// Targets are what stands for the bags of a file. A bag that is not in it was
// never issued.
type Targets map[bag.Code]Target
