package desk

import (
	"slices"

	"sixmile/internal/assay"
)

// Recipe is a method of the lab with what is told about it and never reckoned
// with.
type Recipe struct {
	assay.Method
	Sieves string // a key of Sieves; empty: not said
}

// Sieves are the ways of sieving a recipe can name: number 20 over 60; the same
// with the crushed cysts through 200 onto 500 (the published hand method); an
// elutriator; something else.
var Sieves = []string{"s20_60", "s20_60_200_500", "elutriator", "other"}

// KnownSieves reports a key of the list.
func KnownSieves(key string) bool { return slices.Contains(Sieves, key) }
