package edition

import (
	"errors"
	"fmt"

	"sixmile/internal/place"
)

// SampleID is a sample's random number. It orders nothing that is published.
type SampleID [16]byte

// SenderID is a sender's random number: whatever a visit to the form, a
// bundle, or a tie made at the counter holds together. Numbers merged by a tie
// come as the one they were merged into.
type SenderID [16]byte

// NoSender is the sender of a past result that came without grouping.
var NoSender SenderID

// Standing is the answer to the form's one tap.
type Standing uint8

// The numbers are those of the database.
const (
	Already   Standing = 0 // bags already sent this fall, or no answer
	Earlier   Standing = 1 // in an earlier fall too; these are this fall's first
	FirstEver Standing = 2 // the first bags ever from this farm
)

// Pending is all that the gathering may know of a waiting sample. It has no
// count, no density and no class, which makes rule 2 (class-blind) a matter of
// type: code that wanted to look has nothing to look at.
type Pending struct {
	Sample   SampleID
	Sender   SenderID // NoSender: a past result without grouping
	Standing Standing
	Place    place.ID // the township; the county itself when only the county is known
	County   place.ID
	Season   int  // the fall's year; spring bags belong to the fall before
	Received bool // the soil was received by the cut-off
	Counted  bool // it has a result that may be released
}

// held says that the sample takes part in this edition's gathering.
func (p Pending) held() bool { return p.Received && p.Counted }

// blocks says that the sample makes its whole place wait.
func (p Pending) blocks() bool { return p.Received && !p.Counted }

// ErrPending is wrapped by every refusal of a waiting sample.
var ErrPending = errors.New("waiting sample does not fit")

// checkPending refuses what would otherwise be dropped or shown wrongly
// without a word. It never names a sample: the position is enough to find it.
func checkPending(g Ground, cut Cut, pending []Pending) error {
	seen := make(map[SampleID]struct{}, len(pending))
	for i, p := range pending {
		switch {
		case p.Standing > FirstEver:
			return fmt.Errorf("%w: number %d has an unknown standing", ErrPending, i)
		case p.Season > cut.Season:
			return fmt.Errorf("%w: number %d is of fall %d, after the edition's %d", ErrPending, i, p.Season, cut.Season)
		case !g.holds(p.Place, p.County):
			return fmt.Errorf("%w: number %d is in a place the county does not have", ErrPending, i)
		}
		if _, twice := seen[p.Sample]; twice {
			return fmt.Errorf("%w: number %d comes twice", ErrPending, i)
		}
		seen[p.Sample] = struct{}{}
	}
	return nil
}
