package edition_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// BenchmarkGather gathers waiting results of a state of a hundred counties.
func BenchmarkGather(b *testing.B) {
	g := land(b, 100, 36)
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		rng := rand.New(rand.NewPCG(1, 1))
		pending := make([]edition.Pending, n)
		for i := range pending {
			c := 1 + rng.IntN(100)
			pending[i] = edition.Pending{Sample: sampleID(i + 1), Sender: senderID(rng.IntN(n / 2)), Standing: edition.Standing(rng.IntN(3)),
				Place: township(c, 1+rng.IntN(36)), County: place.ID(c), Season: 2022 + rng.IntN(5), Received: true, Counted: true}
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				_, err := edition.Gather(edition.DefaultRules(), g, edition.History{}, cut(2026), pending)
				require.NoError(b, err)
			}
		})
	}
}
