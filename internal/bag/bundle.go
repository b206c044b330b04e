package bag

import (
	"errors"
	"fmt"
	"slices"
)

const (
	// MaxBundle is the most bags sealed into one bundle.
	MaxBundle = 6

	// MaxLot is the most bags issued to a county at once.
	MaxLot = 20_000
)

// Pack is a number of bundles of one size.
type Pack struct {
	Size  int // bags in each bundle, 1 to MaxBundle
	Count int // bundles of that size
}

// ErrBundle is wrapped by every refusal of PlanBundles.
var ErrBundle = errors.New("lot cannot be cut into bundles")

// PlanBundles cuts a lot of bags into sealed bundles. The sizes are cut in
// turn, one bundle each, round after round; a size that no longer fits is
// passed over; what is left under the smallest size is sealed as one bundle of
// its own. A size listed twice is cut twice a round: {4, 4, 1} makes two
// fours for every single.
//
// The bags of the packs add up to the total. Packs come largest size first,
// each size once.
func PlanBundles(total int, sizes []int) ([]Pack, error) {
	round, err := checkLot(total, sizes)
	if err != nil {
		return nil, err
	}
	var counts [MaxBundle + 1]int
	for _, size := range sizes {
		counts[size] += total / round
	}
	rest := total % round
	for cut := true; cut; {
		cut = false
		for _, size := range sizes {
			if size <= rest {
				counts[size]++
				rest -= size
				cut = true
			}
		}
	}
	if rest > 0 {
		counts[rest]++
	}
	var packs []Pack
	for size := MaxBundle; size > 0; size-- {
		if counts[size] > 0 {
			packs = append(packs, Pack{Size: size, Count: counts[size]})
		}
	}
	return packs, nil
}

// checkLot refuses what cannot be cut and returns how many bags one round of
// the sizes takes.
func checkLot(total int, sizes []int) (round int, err error) {
	if total < 1 || total > MaxLot {
		return 0, fmt.Errorf("%w: %d bags, a lot has 1 to %d", ErrBundle, total, MaxLot)
	}
	if len(sizes) == 0 || len(sizes) > MaxLot {
		return 0, fmt.Errorf("%w: %d bundle sizes given", ErrBundle, len(sizes))
	}
	for _, size := range sizes {
		if size < 1 || size > MaxBundle {
			return 0, fmt.Errorf("%w: bundle of %d bags, a bundle has 1 to %d", ErrBundle, size, MaxBundle)
		}
		round += size
	}
	return round, nil
}

// Sizes lists the bundles of a plan one by one in the order they are printed:
// as PlanBundles gives them, largest first.
func Sizes(packs []Pack) []int {
	var sizes []int
	for _, p := range packs {
		sizes = append(sizes, slices.Repeat([]int{p.Size}, p.Count)...)
	}
	return sizes
}
