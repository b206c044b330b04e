package desk

import (
	"time"

	"sixmile/internal/money"
)

// Money is a fiscal year as the program pays for it. It is worked out from bags
// and prices and is no bookkeeping.
type Money struct {
	Year        money.Year
	First, Last time.Time // its days
	Day         time.Time // worked out on
	Budgets     []money.Budget
	Spent       money.Spending
	Prices      money.Prices // those of the day
	Priced      bool         // there are any
	Season      int          // whose bags the outlook is about; 0 for none
	Bags        money.Season
	Rate        money.Rate
	Outlook     money.Outlook
}
