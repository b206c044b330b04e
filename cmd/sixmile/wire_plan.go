package main

import (
	"sixmile/internal/postgres"
	"sixmile/web/office"
)

// purse is the store of the money pages.
func purse(o *opened) office.Purse {
	m := postgres.NewMoney(o.staff)
	return office.Purse{Accounts: m, Fiscal: m, PriceBook: m, Sponsors: m}
}

// planning is the stores of the pages where bags are planned. Figures are read
// over the public's connection: it cannot read a sample.
func planning(o *opened) office.Planning {
	p := postgres.NewPlans(o.staff)
	return office.Planning{Plans: p, Handed: p, Figures: postgres.NewPublished(o.public)}
}
