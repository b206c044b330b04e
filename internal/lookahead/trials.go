package lookahead

import "sixmile/internal/assay"

// Trial is a published series of counts to hold a set against. None of them was
// fitted to.
type Trial struct {
	Key   string // of its name in the catalog
	Field Field
	Plan  Plan
	Seen  []float64 // eggs per 100 cm³ in the falls after the start; 0: not published
}

// Trials are the published series that this program knows.
func Trials() []Trial {
	of := func(key string, from float64, seen []float64, crops ...Crop) Trial {
		return Trial{Key: key, Field: Field{Start: Counted(from)}, Plan: Plan{Crops: crops}, Seen: seen}
	}
	// Adee, Johnson and Niblack 2008 give the change over two soybean crops in
	// a corn rotation and not where it began: 3,000 eggs are ours. The set has no
	// moderately resistant soybean: it is taken for a source long in use.
	moderate := of("adee-moderate", 3000, []float64{0, 0, 0, 0.46 * 3000}, PI88788, NonHost, PI88788, NonHost)
	moderate.Field.Grown = map[Crop]int{PI88788: 20}
	return []Trial{
		of("corn-6994", 6994, []float64{0, 0, 889}, NonHost, NonHost, NonHost),
		of("corn-14000", 14000, []float64{0, 0, 3695}, NonHost, NonHost, NonHost),
		of("adee-resistant", 3000, []float64{0, 0, 0, 0.20 * 3000}, PI88788, NonHost, PI88788, NonHost),
		moderate,
		of("adee-susceptible", 3000, []float64{0, 0, 0, 2.89 * 3000}, Susceptible, NonHost, Susceptible, NonHost),
		// Ohio, report SC 166-99, counts per 200 cm³ in September 1995 to 1998.
		of("ohio-susceptible", 8893.0/2, []float64{2227.0 / 2, 280.0 / 2, 120.0 / 2}, NonHost, NonHost, PI88788),
		of("ohio-resistant", 813.0/2, []float64{603.0 / 2, 110.0 / 2, 77.0 / 2}, NonHost, NonHost, PI88788),
	}
}

// Verdict is one count of a trial against the band of its fall.
type Verdict struct {
	Trial  string
	Year   int // falls after the start
	From   float64
	Seen   float64
	Eggs   Band
	Inside bool // in the middle eight in ten
}

// Against holds a set against trials.
func (s Set) Against(trials []Trial) ([]Verdict, error) {
	var out []Verdict
	for _, t := range trials {
		o, err := Ahead(s, t.Field, []Plan{t.Plan}, []assay.Density(nil), Options{Seed: 6})
		if err != nil {
			return nil, err
		}
		for i, seen := range t.Seen {
			if seen == 0 {
				continue
			}
			e := o[0].Years[i+1].Eggs
			out = append(out, Verdict{t.Key, i + 1, t.Field.Start.Low, seen, e, seen >= e.Low80 && seen <= e.High80})
		}
	}
	return out, nil
}
