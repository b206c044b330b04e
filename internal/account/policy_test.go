package account

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/place"
)

func TestEveryActionHasItsRoles(t *testing.T) {
	require.Len(t, Roles, len(duties{}))
	for a, line := range policy {
		require.True(t, a.Known())
		require.False(t, (*Staff)(nil).May(a), "the public may %s", a)
		require.Equal(t, Everywhere, line[3], "a coordinator may not %s everywhere", a)
		require.Equal(t, Everywhere, a.Scope(Coordinator))
		require.Equal(t, Never, a.Scope("owner"), "a role that is none")
	}
	require.True(t, (*Staff)(nil).May(Anyone))
	require.False(t, Action("").Known())
	require.False(t, (&Staff{Role: Coordinator}).May("plow"))
}

func TestMayInKeepsToTheCounty(t *testing.T) {
	clerk := &Staff{Role: Clerk, Counties: []place.ID{3}}
	require.True(t, clerk.MayIn(HandOut, 3))
	require.False(t, clerk.MayIn(HandOut, 4))
	require.False(t, clerk.MayIn(Release, 3))
	require.True(t, (&Staff{Role: Coordinator}).MayIn(HandOut, 4))
	require.True(t, (*Staff)(nil).MayIn(Anyone, 4))
	require.False(t, (*Staff)(nil).MayIn(HandOut, 4))
	// A clerk without a county has nothing to do, rather than everything.
	lost := &Staff{Role: Clerk}
	require.False(t, lost.May(HandOut))
	require.Equal(t, Reach{}, lost.Reach(HandOut))
	require.False(t, lost.MayIn(HandOut, 3))
}

// Whoever has to set up a second step first may do nothing else, not even what
// everybody may.
func TestWhoOwesASecondStepHasTheOwnAccountOnly(t *testing.T) {
	for _, r := range Roles {
		s := &Staff{Role: r, Counties: []place.ID{3}, Owes: true}
		for a := range policy {
			require.Equal(t, a == OwnAccount, s.May(a), "%s %s", r, a)
			require.Equal(t, a == OwnAccount, s.MayIn(a, 3), "%s %s", r, a)
		}
		require.True(t, s.May(Anyone))
	}
}

func TestActor(t *testing.T) {
	_, ok := Actor(context.Background())
	require.False(t, ok)
	got, ok := Actor(As(context.Background(), ID{7}))
	require.True(t, ok)
	require.Equal(t, ID{7}, got)
}
