package demo

import (
	"context"
	"time"

	"sixmile/internal/money"
)

// sponsors are invented, and their names say so. Each gives its share, in
// hundredths, of what a year is thought to cost.
var sponsors = []struct {
	name  string
	share int
}{
	{"Invented Bean Board", 60},
	{"Makebelieve Seed Fund", 30},
	{"Elevator of No Such Town", 14},
}

// demoPrices are what a bag costs in a year of the demo: our own choice, creeping
// up.
func demoPrices(since int) money.Prices {
	up := func(c money.Cents) money.Cents { return c + c*money.Cents(since)/40 }
	return money.Prices{Bag: up(40), Postage: up(800), Fee: up(1800)}
}

// money writes down what bags cost and who pays, year by year.
func (b *builder) money(ctx context.Context) error {
	for i, season := range b.world.Seasons {
		first := time.Date(season.Year, time.July, 1, 0, 0, 0, 0, time.UTC)
		p := demoPrices(i)
		p.From = first
		if err := b.Money.SetPrices(ctx, p); err != nil {
			return err
		}
		issued := 0
		for _, lot := range season.Issues {
			issued += lot.Bags
		}
		thought := p.Round().Times(issued * 7 / 10)
		for _, s := range sponsors {
			amount := thought * money.Cents(s.share) / 100 / 250_00 * 250_00
			err := b.Money.SetBudget(ctx, money.Budget{Year: money.DefaultCalendar.Year(first), Sponsor: s.name, Amount: max(amount, 250_00)})
			if err != nil {
				return err
			}
		}
	}
	return nil
}
