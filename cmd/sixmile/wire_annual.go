package main

import (
	"sixmile/internal/postgres"
	"sixmile/web/office"
)

// yearbook is the stores of the annual summary.
func yearbook(o *opened) office.Yearbook {
	return office.Yearbook{Issues: postgres.NewPublished(o.public), Years: postgres.NewAnnual(o.staff), Land: postgres.NewLand(o.public)}
}
