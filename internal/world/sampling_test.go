package world

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sixmile/internal/sample"
)

// eachBag calls f for the bags of a world's closed seasons.
func eachBag(w *World, f func(s *Season, v *Visit, from *Sender, b *Bag)) {
	for i := range Seasons {
		s := &w.Seasons[i]
		bagsOf(s, func(v *Visit, from *Sender, b *Bag) { f(s, v, from, b) })
	}
}

func bagsOf(s *Season, f func(v *Visit, from *Sender, b *Bag)) {
	for j := range s.Visits {
		for k := range s.Visits[j].Senders {
			for n := range s.Visits[j].Senders[k].Bags {
				f(&s.Visits[j], &s.Visits[j].Senders[k], &s.Visits[j].Senders[k].Bags[n])
			}
		}
	}
}

func TestSameSeedSameWorld(t *testing.T) {
	again := New(1, 2025)
	require.Equal(t, worlds[0]().Seasons, again.Seasons)
	require.Equal(t, worlds[0]().farms, again.farms)
	require.NotEqual(t, worlds[1]().Seasons, again.Seasons)
}

func TestSeasonsRunUpToTheOpenOne(t *testing.T) {
	w := New(3, 2019)
	require.Len(t, w.Seasons, Seasons+1)
	for i, s := range w.Seasons {
		require.Equal(t, 2008+i, s.Year)
		require.Equal(t, i == Seasons, s.Open)
		require.Len(t, s.Issues, len(w.Counties))
	}
}

// What the model is set to (our own choice): about 6,000 bags over twelve seasons, more each year,
// uneven by county, some townships never sampled.
func TestParticipation(t *testing.T) {
	for _, make := range worlds {
		w := make()
		bags, byCounty, places := 0, map[string]int{}, map[string]bool{}
		first, last := 0, 0
		eachBag(w, func(s *Season, _ *Visit, _ *Sender, b *Bag) {
			bags++
			byCounty[b.County]++
			places[b.County+b.Township] = true
			switch s.Year {
			case 2014, 2015, 2016:
				first++
			case 2023, 2024, 2025:
				last++
			}
		})
		require.InDelta(t, 6000, bags, 500)
		require.Greater(t, last, 3*first/2)
		var counts []int
		for _, c := range w.Counties {
			counts = append(counts, byCounty[c.Code])
		}
		slices.Sort(counts)
		require.Less(t, counts[0], bags/60, "a sparse county")
		require.Greater(t, counts[0], 0)
		require.Greater(t, counts[11], bags/7, "a heavy one")
		unseen := 0
		for _, s := range w.Townships {
			if !places[s.County+s.Code] {
				unseen++
			}
		}
		require.Greater(t, unseen, 10)
		require.Less(t, unseen, 80)
	}
}

// What the model is set to (our own choice): the share of finds rises from about 35 to 60 in
// 100, a few in 100 are over 12,000 (the top cut of the table in ISU IPM 63,
// 2008, for soybean next), and every class of that table is met.
func TestFinds(t *testing.T) {
	for _, make := range worlds {
		w := make()
		share := func(from, to int) float64 {
			counted, found := 0.0, 0.0
			eachBag(w, func(s *Season, _ *Visit, _ *Sender, b *Bag) {
				if i := s.Year - 2014; b.IsCounted() && i >= from && i <= to {
					counted++
					if b.Count.Eggs > 0 {
						found++
					}
				}
			})
			return found / counted
		}
		require.InDelta(t, 0.35, share(0, 2), 0.10)
		require.InDelta(t, 0.60, share(9, 11), 0.08)
		require.Greater(t, share(8, 11), share(4, 7))
		require.Greater(t, share(4, 7), share(0, 3))

		classes, counted := [4]int{}, 0
		eachBag(w, func(_ *Season, _ *Visit, _ *Sender, b *Bag) {
			if !b.IsCounted() {
				return
			}
			counted++
			d := b.Count.Eggs * 100 / b.Count.AliquotML
			switch {
			case d == 0:
				classes[0]++
			case d <= 2000:
				classes[1]++
			case d <= 12000:
				classes[2]++
			default:
				classes[3]++
			}
		})
		over := float64(classes[3]) / float64(counted)
		require.True(t, over > 0.01 && over < 0.06, "over 12,000: %.3f", over)
		require.Greater(t, classes[2], counted/20)
		require.Greater(t, classes[1], counted/5)
	}
}

// A sender's tap tells the truth or says nothing.
func TestStandingAgreesWithTheFarmsHistory(t *testing.T) {
	for _, make := range worlds {
		w := make()
		lastSeen, blank, senders := map[FarmID]int{}, 0, 0
		kinds := map[Standing]int{}
		for i, s := range w.Seasons {
			for _, v := range s.Visits {
				for _, from := range v.Senders {
					senders++
					kinds[from.Standing]++
					seen, before := lastSeen[from.Farm]
					want := First
					switch {
					case before && seen == i:
						want = Already
					case before:
						want = Earlier
					}
					if from.Standing == Blank {
						blank++
					} else {
						require.Equal(t, want, from.Standing, "season %d", s.Year)
					}
					lastSeen[from.Farm] = i
				}
			}
		}
		require.InDelta(t, BlankShare, float64(blank)/float64(senders), 0.02)
		require.Greater(t, kinds[Already], 30)
		require.Greater(t, kinds[Earlier], senders/3)
		require.Greater(t, kinds[First], senders/5)
	}
}

func TestShares(t *testing.T) {
	for _, make := range worlds {
		w := make()
		var all, lost, late, countyOnly, wider float64
		eachBag(w, func(s *Season, v *Visit, _ *Sender, b *Bag) {
			all++
			if !b.Arrived() {
				lost++
				require.False(t, b.IsCounted())
			} else {
				require.True(t, b.IsCounted(), "a closed season is counted out")
			}
			if b.IsCounted() && b.Counted.After(date(s.Year+1, time.January, 15)) {
				late++
			}
			if b.Township == "" {
				countyOnly++
			}
			if len(v.Senders) > 1 {
				wider++
			}
		})
		require.InDelta(t, 0.03, lost/all, 0.01)
		require.InDelta(t, 0.025, late/all, 0.012)
		require.InDelta(t, 0.03, countyOnly/all, 0.01)
		require.True(t, wider/all > 0.05 && wider/all < 0.35, "agronomists send %.2f", wider/all)
	}
}

func TestDaysFollowEachOther(t *testing.T) {
	for _, make := range worlds {
		w := make()
		for i := range w.Seasons {
			s := &w.Seasons[i]
			require.True(t, slices.IsSortedFunc(s.Visits, func(a, b Visit) int { return a.Day.Compare(b.Day) }))
			require.True(t, slices.IsSortedFunc(s.Bundles, func(a, b Bundle) int { return a.Day.Compare(b.Day) }))
			bagsOf(s, func(v *Visit, _ *Sender, b *Bag) {
				days := []time.Time{s.Bundles[b.Bundle].Day, b.Sampled, v.Day}
				if b.Arrived() {
					days = append(days, b.Received)
				}
				if b.IsCounted() {
					days = append(days, b.Counted)
				}
				for n, d := range days {
					require.Equal(t, d.Truncate(24*time.Hour), d, "dates only")
					require.Equal(t, time.UTC, d.Location())
					if n > 0 {
						require.False(t, d.Before(days[n-1]), "%v", days)
					}
					require.False(t, s.Open && d.After(w.Today))
				}
				fall := !b.Sampled.Before(date(s.Year, time.September, 1)) && !b.Sampled.After(s.Closes)
				spring := b.Sampled.Year() == s.Year+1 && b.Sampled.Month() <= time.May
				require.True(t, fall || spring, "%v", b.Sampled)
			})
		}
	}
}

func TestBundlesAndIssues(t *testing.T) {
	w := worlds[0]()
	for i := range w.Seasons {
		s := &w.Seasons[i]
		used, owner := map[int]int{}, map[int]*Sender{}
		bagsOf(s, func(_ *Visit, from *Sender, b *Bag) {
			used[b.Bundle]++
			if owner[b.Bundle] == nil {
				owner[b.Bundle] = from
			}
			require.Same(t, owner[b.Bundle], from, "a bundle is one person's")
		})
		handed := map[string]int{}
		for n, b := range s.Bundles {
			require.True(t, b.Size >= 1 && b.Size <= 6)
			require.LessOrEqual(t, used[n], b.Size)
			handed[b.County] += b.Size
		}
		require.Less(t, len(used), len(s.Bundles), "some take bags and send none")
		for _, issue := range s.Issues {
			require.GreaterOrEqual(t, issue.Bags, handed[issue.County])
		}
	}
}

func TestOpenFallIsPartial(t *testing.T) {
	for _, make := range worlds {
		w := make()
		s := &w.Seasons[Seasons]
		all, counted, arrived := 0.0, 0.0, 0.0
		bagsOf(s, func(_ *Visit, _ *Sender, b *Bag) {
			all++
			if b.Arrived() {
				arrived++
			}
			if b.IsCounted() {
				counted++
			}
		})
		require.Greater(t, all, 150.0)
		require.InDelta(t, 0.33, counted/all, 0.1)
		require.Greater(t, arrived, counted)
		require.Less(t, arrived, all)
	}
}

// The answers are choices of the form.
func TestAnswersAreChoicesOfTheForm(t *testing.T) {
	w := worlds[0]()
	met := map[string]bool{}
	optional := func(v string, choices []string) {
		if v != "" {
			require.Contains(t, choices, v)
			met[v] = true
		}
	}
	eachBag(w, func(_ *Season, _ *Visit, _ *Sender, b *Bag) {
		require.Contains(t, sample.Harvests, string(b.Harvest))
		require.Contains(t, sample.Crops, string(b.Crop))
		require.Contains(t, sample.Resistances, string(b.Source))
		optional(string(b.Harvest), sample.Harvests)
		optional(string(b.Crop), sample.Crops)
		optional(string(b.Source), sample.Resistances)
		optional(string(b.Next), sample.Crops)
		optional(string(b.Answers.Before), sample.Crops)
		optional(string(b.Answers.Tillage), sample.Tillages)
		optional(string(b.Answers.Texture), sample.Textures)
		optional(string(b.Answers.PH), sample.PHs)
		optional(string(b.Answers.Acres), sample.Acreses)
	})
	require.GreaterOrEqual(t, len(met), 25)
}

func BenchmarkNew(b *testing.B) {
	for b.Loop() {
		New(1, 2025)
	}
}
