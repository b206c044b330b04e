package edition_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/edition"
	"sixmile/internal/edition/attack"
)

const (
	already = edition.Already
	earlier = edition.Earlier
	first   = edition.FirstEver
)

func TestSenders(t *testing.T) {
	for _, c := range []struct {
		name string
		bags *bags
		want int
	}{
		{"nobody", new(bags), 0},
		{"one with many bags", new(bags).add(1, 1, 2024, earlier, 6), 1},
		{"three in one fall", new(bags).add(1, 1, 2024, earlier, 1).add(1, 2, 2024, first, 1).add(1, 3, 2024, earlier, 2), 3},
		{"a blank or repeated visit adds nothing", new(bags).add(1, 1, 2024, earlier, 1).add(1, 2, 2024, already, 1), 1},
		{"only repeated visits", new(bags).add(1, 1, 2024, already, 1).add(1, 2, 2024, already, 1), 0},
		{"three falls that may be one farm", new(bags).add(1, 1, 2022, earlier, 1).add(1, 2, 2023, earlier, 1).add(1, 3, 2024, earlier, 1), 1},
		{"three farms' first bags", new(bags).add(1, 1, 2022, first, 1).add(1, 2, 2023, first, 1).add(1, 3, 2024, first, 1), 3},
		{"first bags before do not help a later fall", new(bags).add(1, 1, 2022, first, 1).add(1, 2, 2023, earlier, 1).add(1, 3, 2023, earlier, 1), 2},
		{"first bags after an earlier fall do", new(bags).add(1, 1, 2022, earlier, 1).add(1, 2, 2022, earlier, 1).add(1, 3, 2024, first, 1), 3},
		{"one number over falls is one", new(bags).add(1, 1, 2022, earlier, 1).add(1, 1, 2023, earlier, 1).add(1, 1, 2024, earlier, 1), 1},
		{"first ever after bags of an earlier fall is not", new(bags).add(1, 1, 2022, earlier, 1).add(1, 1, 2023, first, 1), 1},
		{"both answers in one fall: the doubtful one", new(bags).add(1, 1, 2022, earlier, 1).add(1, 2, 2023, earlier, 1).add(1, 2, 2023, first, 1), 1},
		{"several townships count once", new(bags).add(1, 1, 2024, earlier, 1).add(2, 1, 2024, earlier, 1), 1},
		{"without grouping nobody", new(bags).add(1, -1, 2024, earlier, 9), 0},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, edition.Senders(c.bags.made)) })
	}
}

// The p-percent rule's worked example: contributions 75 and 8 and the rest 18;
// 18/75 is 24 %, so it passes at 20 and fails at 25. Source: the explanation of
// the rule on Utah's page on the Quarterly Census of Employment and Wages
// (handbook section 11). The rest is given as six firms of three.
func TestBalancedPublishedExample(t *testing.T) {
	b := new(bags).add(1, 1, 2024, earlier, 75).add(1, 2, 2024, earlier, 8)
	sizes := []int{75, 8}
	for n := range 6 {
		b.add(1, 3+n, 2024, earlier, 3)
		sizes = append(sizes, 3)
	}
	for percent, want := range map[int]bool{20: true, 24: true, 25: false} {
		require.Equal(t, want, edition.Balanced(percent, b.made), "percent %d", percent)
		require.Equal(t, want, attack.PPercent(sizes, percent), "the attacker's own, percent %d", percent)
	}
}

func TestBalanced(t *testing.T) {
	three := func() *bags {
		return new(bags).add(1, 1, 2024, earlier, 1).add(1, 2, 2024, first, 1).add(1, 3, 2024, earlier, 1)
	}
	for _, c := range []struct {
		name string
		bags *bags
		want bool
	}{
		{"three with one bag each", three(), true},
		{"one with five more", three().add(1, 1, 2024, earlier, 4), true},
		{"one with six", three().add(1, 1, 2024, earlier, 5), false},
		{"repeated visits may be the largest's", three().add(1, 4, 2024, already, 4), true},
		{"and then too many", three().add(1, 4, 2024, already, 5), false},
		{"two and a newcomer", new(bags).add(1, 1, 2023, earlier, 1).add(1, 2, 2023, earlier, 1).add(1, 3, 2024, first, 1), true},
		{"two and a farm that may be one of them", new(bags).add(1, 1, 2023, earlier, 1).add(1, 2, 2023, earlier, 1).add(1, 3, 2024, earlier, 1), false},
		{"nobody known", new(bags).add(1, -1, 2024, earlier, 50), true},
		{"unknown senders neither help nor hinder", three().add(1, -1, 2024, earlier, 50), true},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, edition.Balanced(20, c.bags.made)) })
	}
}

// history draws what a few farms sent over a few falls with true or blank taps,
// and a choice of the bags. Sender numbers are shared and split at will: a farm
// has several, and neighbors use one bundle.
func history(t *rapid.T) (chosen []edition.Pending, farms []int) {
	b := new(bags)
	var owner []int
	ever := make(map[int]bool)
	for season := 2020; season < 2020+rapid.IntRange(1, 4).Draw(t, "falls"); season++ {
		this := make(map[int]bool)
		for range rapid.IntRange(0, 6).Draw(t, "visits") {
			farm := rapid.IntRange(1, 5).Draw(t, "farm")
			standing := first
			if this[farm] {
				standing = already
			} else if ever[farm] {
				standing = earlier
			}
			ever[farm], this[farm] = true, true
			if rapid.IntRange(0, 4).Draw(t, "blank") == 0 {
				standing = already
			}
			// Numbers up to 3 are bundles that go around; the others are of
			// one visit each.
			number := rapid.IntRange(1, 9).Draw(t, "number")
			if number > 3 {
				number = 10 + len(b.made)
			}
			n := rapid.IntRange(1, 4).Draw(t, "bags")
			b.add(1, number, season, standing, n)
			for range n {
				owner = append(owner, farm)
			}
		}
	}
	for i, p := range b.made {
		if rapid.IntRange(0, 3).Draw(t, "in") > 0 {
			chosen, farms = append(chosen, p), append(farms, owner[i])
		}
	}
	return chosen, farms
}

// With true taps the estimate never exceeds the farms that are there, and what
// is called balanced is so by the farms' own bags, whichever bags are chosen.
func TestSendersAreFarms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chosen, farms := history(t)
		perFarm := make(map[int]int)
		for _, f := range farms {
			perFarm[f]++
		}
		require.LessOrEqual(t, edition.Senders(chosen), len(perFarm))
		if len(chosen) > 0 && edition.Balanced(20, chosen) {
			var sizes []int
			for _, n := range perFarm {
				sizes = append(sizes, n)
			}
			require.True(t, attack.PPercent(sizes, 20), "sizes %v", sizes)
		}
	})
}
