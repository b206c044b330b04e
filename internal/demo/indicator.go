package demo

import (
	"context"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/bag"
	"sixmile/internal/desk"
	"sixmile/internal/virulence"
	"sixmile/internal/world"
)

// A test on indicator lines needs tens of thousands of eggs, so only bags from
// testedFrom eggs per 100 cm³ on are tested, and of those one in testedOne.
const (
	testedFrom = 4000
	testedOne  = 3
)

// indicate puts a bag of the last closed falls on indicator lines, if it is one
// of those that are. All figures are invented: females on five pots of the check
// and of two lines, as a lab does that tests for the two common sources alone.
func (b *builder) indicate(season world.Season, n int, code bag.Code, in world.Bag, tests *pile) {
	last := len(b.world.Seasons)
	if season.Open || season.Year < b.world.Seasons[last-1].Year-2 || !in.IsCounted() || in.Truth < testedFrom || n%testedOne != 0 {
		return
	}
	day := time.Date(season.Year+1, time.February, 1+n%20, 0, 0, 0, 0, time.UTC)
	on88788, onPeking := 34+n%29, n%4
	switch {
	case in.Source == world.Peking:
		on88788, onPeking = 6+n%9, 18+n%15
	case n%5 == 0: // a population that 88788 still holds
		on88788 = n % 9
	}
	test := virulence.Test{Check: pots(212, n)}
	test.Pots[virulence.Peking-1] = pots(212*onPeking/100, n+1)
	test.Pots[virulence.PI88788-1] = pots(212*on88788/100, n+2)
	*tests = append(*tests, task{day, func(ctx context.Context) error {
		return b.Indicators.Record(ctx, code, test, desk.ID{}, account.ID{}, day)
	}})
}

// pots are females on five pots around a mean, a tenth apart at the most.
func pots(mean, n int) []int {
	out := make([]int, 5)
	for i := range out {
		out[i] = max(0, mean+mean*((n*7+i*13)%21-10)/100)
	}
	return out
}
