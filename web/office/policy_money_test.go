package office

import "sixmile/internal/account"

// who may open the pages of plans and money: part of the table of
// TestWhoMayOpenWhat.
var planPolicy = map[string][]account.Role{
	"GET /office/money":     {account.Coordinator},
	"POST /office/money":    {account.Coordinator},
	"GET /office/money.csv": {account.Coordinator},

	"GET /office/plan":                   {account.Coordinator},
	"POST /office/plan":                  {account.Coordinator},
	"GET /office/plan/{no}":              {account.Coordinator},
	"GET /office/plan/{no}/plan.csv":     {account.Coordinator},
	"GET /office/plan/{no}/map/{county}": {account.Coordinator},
	"GET /office/lookback":               {account.Coordinator},
}
