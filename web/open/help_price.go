package open

// rulesPrice is what the rules of a release cost in coverage: the share, in
// percent, of sampled townships that the map shows after twelve falls, alone
// and with joined townships, for groups of three and of five senders. It is the
// table that the coverage test of package edition prints:
//
//	SIXMILE_LONG=1 go test -run Coverage -v ./internal/edition
//
// 40 simulated runs of a county of 36 townships (November 2026).
var rulesPrice = []struct {
	Senders int // a county and fall
	Shares  [4]int
}{
	{5, [4]int{15, 79, 3, 50}},
	{15, [4]int{47, 96, 17, 88}},
	{40, [4]int{79, 99, 51, 100}},
}
