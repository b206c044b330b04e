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
