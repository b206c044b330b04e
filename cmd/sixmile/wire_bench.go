package main

import (
	"sixmile/internal/postgres"
	"sixmile/web/office"
)

// bench is the stores of the lab's pages.
func bench(o *opened) office.Bench {
	signoff := postgres.NewSignOff(o.staff)
	lab := postgres.NewLab(o.staff)
	trays := postgres.NewTrays(o.staff)
	return office.Bench{
		SignOff: signoff, Batches: signoff, Trays: trays, Cups: trays, Ledgers: trays, Idle: trays, Strays: trays,
		Slips: postgres.NewBags(o.staff), Histories: lab,
		Fresh: lab, Controls: trays, Twins: lab, Methods: postgres.NewLevels(o.staff), Uploads: postgres.NewUploads(o.staff), Indicators: postgres.NewIndicators(o.staff),
	}
}
