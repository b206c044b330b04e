package office

import "sixmile/internal/account"

// who may open the pages of plans and money: part of the table of
// TestWhoMayOpenWhat.
var planPolicy = map[string][]account.Role{
	"GET /office/money":     {account.Coordinator},
	"POST /office/money":    {account.Coordinator},
	"GET /office/money.csv": {account.Coordinator},
}
