package desk

import (
	"sixmile/internal/bag"
	"sixmile/internal/place"
)

// Bundle is a bundle of bags as the counter sees it: codes and how far each has
// come, never who has it.
type Bundle struct {
	ID     ID
	County place.ID // whose office hands it out
	Season int
	Bags   []BundleBag
	// Changed is how many bags the last step changed; none when it had been taken
	// before.
	Changed int
}

// BundleBag is one bag of a bundle.
type BundleBag struct {
	Code  bag.Code
	State bag.State
}
