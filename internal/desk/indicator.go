package desk

import (
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/virulence"
)

// Indicator is a test of one bag's nematodes on indicator lines. It is for the
// office: what of it may be told is told by region, by the release rules.
type Indicator struct {
	ID     ID
	Code   bag.Code
	Season int
	Day    time.Time
	By     string // login; empty for the command line
	Test   virulence.Test
}

// IndicatorFall is a closed fall with its tests as they stood when it closed.
type IndicatorFall struct {
	Season    int
	K         int // senders a region needs
	Dominance int // per cent, of the p-percent rule
	Tests     []virulence.Sent
}
