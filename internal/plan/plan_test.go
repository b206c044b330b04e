package plan

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/fault"
	"sixmile/internal/place"
)

// genPlaces draws places of a few counties, some of them odd ones: no acres, a
// chance of nothing or of one, never looked at.
func genPlaces(t *rapid.T, counties, each int) []Place {
	var out []Place
	chance := rapid.OneOf(rapid.Float64Range(0, 1), rapid.SampledFrom([]float64{0, 0.05, 0.5, 1}))
	for c := range rapid.IntRange(1, counties).Draw(t, "counties") {
		for range rapid.IntRange(1, each).Draw(t, "places") {
			out = append(out, Place{
				ID: place.ID(100 + len(out)), County: place.ID(c + 1),
				Acres: rapid.IntRange(0, 20000).Draw(t, "acres"), Found: rapid.Bool().Draw(t, "found"),
				Find: chance.Draw(t, "find"), Weight: rapid.Float64Range(0.2, 40).Draw(t, "weight"),
				Miss: chance.Draw(t, "miss"), Clean: chance.Draw(t, "clean"), Level: chance.Draw(t, "level"),
			})
		}
	}
	return out
}

func genAsk(t *rapid.T, most, counties int) Ask {
	a := Ask{
		Bags:   rapid.IntRange(counties, max(most, counties)).Draw(t, "bags"),
		Return: rapid.Float64Range(0.05, 1).Draw(t, "return"),
		Reach:  rapid.SampledFrom([]Reach{AsTheyCome, AsSuggested}).Draw(t, "reach"),
	}
	a.Least = rapid.IntRange(0, a.Bags/counties).Draw(t, "least")
	for i := range a.Weights {
		a.Weights[i] = rapid.Float64Range(0, 3).Draw(t, "weight")
	}
	a.Weights[rapid.IntRange(0, NumAims-1).Draw(t, "surely")] += 0.5
	return a
}

// Every way of giving the bags out, one after the other: none beats the plan.
func TestPlanAgainstEveryOtherAllotment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := genPlaces(t, 4, 3)
		counties := shires(places, Ask{Bags: 1, Return: 1})
		a := genAsk(t, 12, len(counties))
		p, err := New(places, a)
		require.NoError(t, err)
		best := 0.0
		every(len(counties), a.Bags, a.Least, func(given []int) {
			bags := map[place.ID]int{}
			for i, n := range given {
				bags[counties[i].id] = n
			}
			_, value := p.Worth(places, bags)
			best = max(best, value)
		})
		require.InDelta(t, best, p.Value, 1e-9)
	})
}

// every calls f with each way of sharing bags out among n, at least least each.
func every(n, bags, least int, f func([]int)) {
	given := make([]int, n)
	var share func(i, left int)
	share = func(i, left int) {
		if i == n-1 {
			given[i] = left
			f(given)
			return
		}
		for k := least; k <= left-least*(n-1-i); k++ {
			given[i] = k
			share(i+1, left-k)
		}
	}
	share(0, bags)
}

// Where townships can be asked, every way of spreading a county's bags over its
// townships: none beats the suggestion.
func TestSuggestionAgainstEveryOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := genPlaces(t, 1, 4)
		a := genAsk(t, 9, 1)
		a.Reach = AsSuggested
		p, err := New(places, a)
		require.NoError(t, err)
		best := 0.0
		every(len(places), a.Bags, 0, func(given []int) {
			var g Gains
			for i, n := range given {
				town := newTown(i, places[i], a.Return)
				for range n {
					g.add(town.next())
					town.take()
				}
			}
			g[Fair] = p.Total[Fair]
			best = max(best, g.weigh(p.scale()))
		})
		require.InDelta(t, best, p.Value, 1e-9)
		var mine Gains
		for _, s := range p.Places {
			mine.add(s.Gains)
		}
		mine[Fair] = p.Total[Fair]
		require.InDelta(t, p.Value, mine.weigh(p.scale()), 1e-9)
	})
}

// The bound of large cases (Everett 1963, Operations Research 11:399-417,
// "generalized Lagrange multiplier"): for any price of a bag no allotment is
// worth more than what every county gains over the price, plus the price of all
// bags. At the price of the last bag the plan meets the bound, so it is the best.
func TestPlanMeetsTheBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := genPlaces(t, 20, 8)
		counties := shires(places, Ask{Bags: 1, Return: 1})
		a := genAsk(t, 700, len(counties))
		p, err := New(places, a)
		require.NoError(t, err)
		price, sum := math.Inf(1), 0
		for _, l := range p.Lots {
			sum += l.Bags
			require.GreaterOrEqual(t, l.Bags, a.Least)
			if l.Bags > a.Least {
				price = min(price, l.Last.weigh(p.scale()))
			}
		}
		require.Equal(t, a.Bags, sum, "every bag is given")
		if math.IsInf(price, 1) {
			return // no bag was free to give
		}
		bound := price * float64(a.Bags-a.Least*len(counties))
		for _, s := range shires(places, a) {
			s.weigh(p.scale())
			have, highest := 0.0, math.Inf(-1)
			for n := range a.Bags + 1 {
				if n >= a.Least {
					highest = max(highest, have-price*float64(n-a.Least))
				}
				have += s.next().weigh(p.scale())
				s.take()
			}
			bound += highest
		}
		require.InDelta(t, bound, p.Value, 1e-8)
	})
}

// The value of a further bag never rises, whatever the place and the way.
func TestEveryValueIsConcave(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := genPlaces(t, 1, 6)
		a := genAsk(t, 60, 1)
		s := shires(places, a)[0]
		w := Gains{1, 1, 1, 1}
		s.weigh(w)
		last := math.Inf(1)
		for range 60 {
			next := s.next().weigh(w)
			require.LessOrEqual(t, next, last+1e-12)
			require.GreaterOrEqual(t, next, -1e-12)
			last = next
			s.take()
		}
	})
}

// By hand: a place whose share has the beta distribution with weights 1 and 3
// misses with 3/4, then 4/5 of that, then 5/6: 1/2 after three bags. Two places
// with finds at levels 1 and one half: the second bag goes to the higher one only
// where half of 1/3 is more than half of one half.
func TestGainsByHand(t *testing.T) {
	p := Place{Find: 0.25, Weight: 4, Miss: 0.9, Clean: 0.9}
	require.InDelta(t, 0.25, p.FirstFind(1), 1e-9)
	require.InDelta(t, 0.5, p.FirstFind(3), 1e-9)
	town := newTown(0, p, 1)
	require.InDelta(t, 0.09, town.next()[Sure], 1e-12)
	town.take()
	require.InDelta(t, 0.081, town.next()[Sure], 1e-12)
	require.Zero(t, town.next()[Levels])
	found := newTown(0, Place{Found: true, Level: 0.5}, 1)
	require.InDelta(t, 0.25, found.next()[Levels], 1e-12)
	found.take()
	require.InDelta(t, 0.5*(2./3-1./2), found.next()[Levels], 1e-12)
	require.Zero(t, Place{Found: true, Find: 0.5, Weight: 1}.FirstFind(3))
}

// Thinning keeps the first two moments of the chance.
func TestThinKeepsMeanAndVariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		find, weight := rapid.Float64Range(0.01, 0.99).Draw(t, "find"), rapid.Float64Range(0.1, 50).Draw(t, "weight")
		rate := rapid.Float64Range(0.01, 1).Draw(t, "rate")
		a, all := thin(find, weight, rate)
		mean := a / all
		require.InDelta(t, rate*find, mean, 1e-9)
		require.InDelta(t, rate*rate*find*(1-find)/(weight+1), mean*(1-mean)/(all+1), 1e-9)
	})
}

// Webster's method on a worked example that is often printed: votes of 100,000,
// 80,000, 30,000 and 20,000 for eight seats give 3, 3, 1, 1 (from memory), and
// 53,000, 24,000 and 23,000 for seven give 3, 2, 2 (from memory).
func TestByAcres(t *testing.T) {
	share := func(bags, least int, acres ...int) (out []int) {
		var places []Place
		for i, a := range acres {
			places = append(places, Place{ID: place.ID(10 + i), County: place.ID(i + 1), Acres: a})
		}
		given := ByAcres(places, bags, least)
		for i := range acres {
			out = append(out, given[place.ID(i+1)])
		}
		return out
	}
	require.Equal(t, []int{3, 3, 1, 1}, share(8, 0, 100000, 80000, 30000, 20000))
	require.Equal(t, []int{3, 2, 2}, share(7, 0, 53000, 24000, 23000))
	require.Equal(t, []int{1, 1, 0}, share(2, 0, 0, 0, 0))
	require.Equal(t, []int{7, 3}, share(10, 3, 1000, 0))
}

// Fairness alone is the share by acres, to within a bag.
func TestFairnessAlone(t *testing.T) {
	places := []Place{{ID: 11, County: 1, Acres: 500}, {ID: 12, County: 2, Acres: 300}, {ID: 13, County: 3, Acres: 200}}
	p, err := New(places, Ask{Bags: 100, Return: 0.6, Weights: [NumAims]float64{Fair: 1}})
	require.NoError(t, err)
	require.Equal(t, []int{50, 30, 20}, []int{p.Lots[0].Bags, p.Lots[1].Bags, p.Lots[2].Bags})
	require.InDelta(t, 1, p.Value, 1e-12)
	require.InDelta(t, 1, p.Total[Fair], 1e-12)
}

func TestSameFiguresSamePlan(t *testing.T) {
	places := rapid.Custom(func(t *rapid.T) []Place { return genPlaces(t, 12, 8) }).Example(7)
	a := Ask{Bags: 400, Least: 5, Return: 0.5, Weights: [NumAims]float64{4, 3, 2, 1}}
	p, err := New(places, a)
	require.NoError(t, err)
	q, err := New(places, a)
	require.NoError(t, err)
	require.Equal(t, p, q)
	back := make([]Place, len(places))
	for i := range places {
		back[len(places)-1-i] = places[i]
	}
	r, err := New(back, a)
	require.NoError(t, err)
	for i := range p.Lots {
		require.Equal(t, p.Lots[i].County, r.Lots[i].County)
	}
	require.InDelta(t, p.Value, r.Value, 1e-9)
}

func TestAsksThatCannotBeDone(t *testing.T) {
	good := Ask{Bags: 100, Least: 10, Return: 0.5, Weights: [NumAims]float64{1}}
	require.NoError(t, good.Check(10))
	for field, spoil := range map[string]func(*Ask){
		FieldBags:    func(a *Ask) { a.Bags, a.Least = 0, 0 },
		FieldLeast:   func(a *Ask) { a.Least = 11 },
		FieldReturn:  func(a *Ask) { a.Return = math.NaN() },
		FieldWeights: func(a *Ask) { a.Weights = [NumAims]float64{} },
	} {
		a := good
		spoil(&a)
		var bad *fault.Invalid
		require.ErrorAs(t, a.Check(10), &bad, field)
		require.Contains(t, bad.Fields, field)
	}
	_, err := New(nil, good)
	require.Error(t, err)
	_, err = New([]Place{{ID: 1, County: 1}}, Ask{})
	require.Error(t, err)
}

func BenchmarkPlan(b *testing.B) {
	for _, size := range []struct{ bags, places int }{{2000, 2000}, {90000, 2000}} {
		for _, reach := range []Reach{AsTheyCome, AsSuggested} {
			b.Run(fmt.Sprintf("%d/%d/%d", size.bags, size.places, reach), func(b *testing.B) {
				places := Invented(size.places)
				for b.Loop() {
					if _, err := New(places, Ask{Bags: size.bags, Least: 5, Return: 0.5, Reach: reach, Weights: [NumAims]float64{4, 2, 1, 1}}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
