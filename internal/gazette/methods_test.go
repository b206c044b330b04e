package gazette

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCounting(t *testing.T) {
	issue := ground(2)
	issue.CountedBy = []CountedBy{{2, 100, 1}, {3, 100, 1}, {3, 200, 2}, {4, 100, 2}, {5, 100, 0}, {6, 100, 1}}
	x, err := NewIndex(issue)
	require.NoError(t, err)
	for _, tt := range []struct {
		editions []int
		want     Counting
		one      bool
	}{
		{nil, Counting{}, true},
		{[]int{1}, Counting{}, true}, // nothing is said
		{[]int{2, 3}, Counting{1, false}, true},
		{[]int{2, 4}, Counting{2, false}, false},
		{[]int{5}, Counting{0, true}, false},
		{[]int{2, 5, 6}, Counting{1, true}, false},
		{[]int{2, 3, 4, 5, 6}, Counting{2, true}, false},
	} {
		got := x.Counting(100, tt.editions...)
		require.Equal(t, tt.want, got, "%v", tt.editions)
		require.Equal(t, tt.one, got.One(), "%v", tt.editions)
	}
}
