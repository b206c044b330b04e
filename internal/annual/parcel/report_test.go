package parcel

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/annual"
	"sixmile/internal/annual/fixture"
	"sixmile/internal/catalog"
	"sixmile/internal/edition"
	"sixmile/internal/gazette"
)

// Worked by hand from the rounding of fall figures (rule 8): 25 and 15 bags are 19 to
// 27 and 9 to 17, 10 and 5 finds are 4 to 12 and 0 to 7. Twenty counties of which each
// says 5 may have no find at all, and must not be told to have a hundred.
func TestRoundedFiguresAreNotAddedUp(t *testing.T) {
	say := func(issue *gazette.Issue) string {
		x, err := gazette.NewIndex(issue)
		require.NoError(t, err)
		text, told := newWords(Options{Lang: catalog.English()}, x, annual.Period{Year: 2026}, annual.PublicName).fallOfAll()
		require.True(t, told)
		return text
	}
	require.Contains(t, say(fixture.Issue()), "Fall of 2026: 28 to 44 bags were counted, 4 to 19 of them with eggs, in 2 counties")
	many := fixture.Ground(20, 8)
	for _, c := range many.Counties {
		many.Falls = append(many.Falls, edition.FallFigure{County: c.ID, Season: 2026, Samples: 10, Finds: 5, Highest: edition.NotTold})
	}
	require.Contains(t, say(many), "100 to 240 bags were counted, 0 to 140 of them with eggs, in 20 counties")

	x, err := gazette.NewIndex(fixture.Ground(2, 8))
	require.NoError(t, err)
	_, told := newWords(Options{Lang: catalog.English()}, x, annual.Period{Year: 2026}, annual.PublicName).fallOfAll()
	require.False(t, told)
}
