package world

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"
)

// New makes the world of a seed: twelve closed falls up to lastSeason and the
// open fall after it.
func New(seed uint64, lastSeason int) *World {
	l := newLand()
	w := &World{
		Name:     stateName,
		Meridian: meridianName,
		Today:    date(lastSeason+1, time.October, openDay),
		Rivers: []River{
			{borderRiver, lonLats(l.rivers[0])},
			{westRiver, lonLats(l.rivers[1])},
		},
		Ridges: []Ridge{{ridgeName, Polygon{closed(l.ridge)}}},
		land:   l,
	}
	w.nameLand()
	first := lastSeason - Seasons + 1
	w.farms = settle(l, stream(seed, 1))
	history(l, w.farms, stream(seed, 2), first)
	w.sample(seed, first)
	return w
}

func date(year int, month time.Month, day int) time.Time {
	return time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
}

// nameLand sorts the tracts into the order of Townships, and names everything.
func (w *World) nameLand() {
	rng := rand.New(rand.NewPCG(landSeed, 3))
	letters := make([]byte, 0, len(countyNames))
	for c := byte('A'); c <= 'L'; c++ {
		letters = append(letters, c)
	}
	// Codes run alphabetically by name, odd numbers, as county codes do.
	slices.SortFunc(letters, func(a, b byte) int {
		return cmp.Compare(countyNames[a].name, countyNames[b].name)
	})
	codes := map[byte]string{}
	for i, c := range letters {
		codes[c] = fmt.Sprintf("%03d", 2*i+1)
	}
	names := placeNames(rng)
	for i, t := range w.land.tracts {
		w.Townships = append(w.Townships, Township{
			Code:    legalCode(t.cell),
			Name:    names[i],
			County:  codes[t.county],
			Outline: Polygon{closed(t.ring)},
			Whole:   area2(t.ring) == 2*sixMiles*sixMiles,
		})
	}
	for _, c := range letters {
		towns := w.placeTowns(c, codes[c], rng)
		w.Towns = append(w.Towns, towns...)
		w.Counties = append(w.Counties, County{
			Code:    codes[c],
			Name:    countyNames[c].name,
			Outline: Polygon{closed(w.land.county[c])},
			Seat:    towns[0].Name,
			Office:  officeIn(towns[0].Name, rng),
		})
	}
}

// legalCode is a township's number from the base line and the meridian.
func legalCode(cell int) string {
	return fmt.Sprintf("T%dN R%dE", firstTier+cell/columns, firstRange+cell%columns)
}

func placeNames(rng *rand.Rand) []string {
	var names []string
	for _, s := range nameStems {
		for _, e := range nameEndings {
			names = append(names, s+e)
		}
	}
	rng.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	return names
}

// placeTowns puts the towns of a county into townships of its own, the seat
// nearest to the middle.
func (w *World) placeTowns(letter byte, code string, rng *rand.Rand) []Town {
	var own []int
	for i, t := range w.land.tracts {
		if t.county == letter && t.farmed > 0 {
			own = append(own, i)
		}
	}
	middle := centroid(w.land.county[letter])
	slices.SortStableFunc(own, func(a, b int) int {
		return cmp.Compare(miles(w.land.tracts[a].center, middle), miles(w.land.tracts[b].center, middle))
	})
	var towns []Town
	for i, name := range countyNames[letter].towns {
		k := 0
		if i > 0 { // the others further out, each in a part of its own
			k = len(own)*i/len(countyNames[letter].towns) + rng.IntN(3)
		}
		at := toLonLat(w.land.tracts[own[k]].somewhere(rng))
		towns = append(towns, Town{Name: name, County: code, At: at, Seat: i == 0})
	}
	return towns
}

func officeIn(seat string, rng *rand.Rand) Office {
	streets := []string{"Courthouse Square", "Depot Street", "Fairground Road", "Elevator Row", "Second Street"}
	hours := []string{"Monday to Friday, 8:00 to 4:30", "Monday to Thursday, 7:30 to 5:00", "Weekdays, 8:00 to noon and 1:00 to 4:30"}
	drops := []string{"Box by the back door, open at all hours", "At the counter", "Cooler in the entry, weekdays", "Seed dealer's scale house, Saturdays to noon"}
	return Office{
		Address: fmt.Sprintf("%d %s, %s", 100+rng.IntN(40)*5, streets[rng.IntN(len(streets))], seat),
		Hours:   hours[rng.IntN(len(hours))],
		DropOff: drops[rng.IntN(len(drops))],
	}
}
