package past

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/assay"
	"sixmile/internal/edition"
	"sixmile/internal/place"
	"sixmile/internal/tabular"
)

func survey(t, r int, ew place.Side, m place.Meridian) *place.Survey {
	return &place.Survey{Township: place.Whole(t), Range: place.Whole(r), NorthSouth: place.North, EastWest: ew, Meridian: m}
}

// ground is two counties; 12 and 22 have survey numbers that differ by their
// direction alone, and a name is in both.
func ground() *Gazetteer {
	return NewGazetteer([]Named{
		{ID: 1, County: 1, Names: []string{"Plover", "001"}}, {ID: 2, County: 2, Names: []string{"Sedge", "002"}},
		{ID: 11, County: 1, Names: []string{"T21N R8E", "Goose Prairie"}, Towns: []string{"Larch"}, Survey: survey(21, 8, place.East, 5)},
		{ID: 12, County: 1, Names: []string{"T22N R8E", "Liberty"}, Survey: survey(22, 8, place.East, 5)},
		{ID: 22, County: 2, Names: []string{"T22N R8W", "Liberty"}, Survey: survey(22, 8, place.West, 5)},
	})
}

// square puts every point with a positive first coordinate into place 11.
type square struct{ batches, most int }

func (s *square) Locate(_ context.Context, _ int, points []Point) ([]place.ID, error) {
	s.batches, s.most = s.batches+1, max(s.most, len(points))
	out := make([]place.ID, len(points))
	for i, p := range points {
		if p.X > 0 {
			out[i] = 11
		}
	}
	return out, nil
}

func setup() Setup {
	return Setup{SRID: 4326, Latest: 2025, Methods: assay.PresetMethods(), Scheme: assay.DefaultScheme(),
		Seasons: []SeasonDays{{2020, time.Date(2020, 6, 1, 0, 0, 0, 0, time.UTC), time.Date(2021, 5, 20, 0, 0, 0, 0, time.UTC)}}}
}

func verdictOf(t require.TestingT, text string, with Setup) Verdict {
	s, err := Open([]byte(text), nil)
	require.NoError(t, err)
	v, err := Judge(context.Background(), s, Guess(s), with, ground(), &square{}, func(int) {})
	require.NoError(t, err)
	return v
}

func TestPlacesAndFalls(t *testing.T) {
	for _, tt := range []struct {
		season, county, place string
		fall                  int
		want                  Spot
		problem               tabular.Problem
	}{
		{"2019", "", "T21N R8E", 2019, Spot{11, 1}, ""},
		{"Fall 2019", "", "NW of the SE of 12, T21N, R8E of the 5th", 2019, Spot{11, 1}, ""},
		{"2019-20", "", "21-8", 2019, Spot{11, 1}, ""},
		{"spring 2020", "Plover", "goose prairie township", 2019, Spot{11, 1}, ""},
		{"2020", "plover county", "", 2020, Spot{1, 1}, ""},
		{"2020", "2", "", 2020, Spot{}, NoCounty},
		{"2020", "002", "Liberty", 2020, Spot{22, 2}, ""},
		{"2020", "", "Liberty", 2020, Spot{}, ManyPlaces},
		{"2020", "", "22-8", 2020, Spot{}, ManyPlaces}, // east or west?
		{"2020", "Plover", "22-8", 2020, Spot{12, 1}, ""},
		{"2020", "", "22N 8W", 2020, Spot{22, 2}, ""},
		{"2020", "", "T22N R8W, Sedge County", 2020, Spot{22, 2}, ""},
		{"2020", "Plover", "T22N R8W, Sedge County", 2020, Spot{}, OtherCounty},
		{"2020", "", "Goose Prarie", 2020, Spot{}, NoPlace}, // no guessing in thousands of rows
		{"2020", "", "Larch", 2020, Spot{}, TownOnly},
		{"2020", "", "sec 37 T21N R8E", 2020, Spot{}, BadLegal},
		{"2026", "", "T21N R8E", 2026, Spot{}, SeasonOpen},
		{"98", "", "T21N R8E", 0, Spot{}, NotSeason},
	} {
		v := verdictOf(t, fmt.Sprintf("year|county|place|eggs per 100 cc\n%s|%s|%s|40\n", tt.season, tt.county, tt.place), setup())
		if tt.problem != "" {
			require.Equal(t, map[tabular.Problem]int{tt.problem: 1}, v.Kinds, "%+v", tt)
			continue
		}
		require.Len(t, v.Kept, 1, "%+v: %v", tt, v.Kinds)
		require.Equal(t, tt.want, v.Kept[0].Spot, "%+v", tt)
		require.Equal(t, tt.fall, v.Kept[0].Season, "%+v", tt)
	}
	for day, fall := range map[string]int{"2019-07-01": 2019, "6/30/2019": 2018, "2020-06-02": 2020, "2021-05-20": 2020, "2021-05-21": 2020, "11/3/1987": 1987} {
		v := verdictOf(t, "date,twp,eggs per 100 cc\n"+day+",21-8,1\n", setup())
		require.Len(t, v.Kept, 1, "%s: %v", day, v.Kinds)
		require.Equal(t, fall, v.Kept[0].Season, day)
	}
	require.Equal(t, 1, verdictOf(t, "year,date,twp,eggs per 100 cc\n2018,2019-10-10,21-8,1\n", setup()).Kinds[SeasonDisagree])
}

// Units: handbook section 3: per 250 cm³ times 100/250; a gram of soil at 1.25
// g/cm³ fills 0.8 cm³.
func TestFigures(t *testing.T) {
	v := verdictOf(t, "year,twp,eggs,unit,bulk density,level,method\n2011,21-8,5000,per 250 cc,,,Sieve crush 100cm3\n2011,21-8,1000,per 100 g,1.25,,by hand\n2011,21-8,,,,High,\n2011,21-8,,,,nd,\n", setup())
	require.Zero(t, v.BadRows, "%v", v.Kinds)
	require.Equal(t, []assay.Density{2000, 1250}, []assay.Density{v.Kept[0].Reading.Density, v.Kept[1].Reading.Density})
	require.Equal(t, assay.MethodSoil100, v.Kept[0].Method.Name)
	require.Equal(t, [3]int{2, 3, 1}, [3]int{v.ClassOnly, v.Unknown, v.Strange})
	require.Equal(t, [3]int{3, 0, 1}, [3]int{v.Found, v.Unconfirmed, v.None})
	for text, p := range map[string]tabular.Problem{"7,lots,": assay.Unknown, "7,,": assay.Missing, "-7,per kg,1": assay.Negative, "7,per kg,": assay.Missing, "7,per kg,9": assay.TooLarge} {
		v := verdictOf(t, "year,twp,eggs,unit,bulk density\n2011,21-8,"+text+"\n", setup())
		require.Equal(t, map[tabular.Problem]int{p: 1}, v.Kinds, text)
	}
	require.Equal(t, 1, verdictOf(t, "year,twp,level\n2011,21-8,awful\n", setup()).Kinds[NoLevel])
}

// A stand-in for a level is sorted back into it by every level table there is.
func TestStandInSortsBack(t *testing.T) {
	schemes := assay.Presets()
	bare := assay.DefaultScheme()
	bare.Trace = 0
	for _, s := range append(schemes, bare) {
		for _, c := range s.Classes {
			require.Equal(t, c.Rank, s.Class(StandIn(s, c)).Rank, "%s %s", s.Key, c.Name)
		}
	}
}

// Coordinates are asked about in small batches, and a row keeps none.
func TestCoordinatesGoInBatches(t *testing.T) {
	lines := []string{"year,latitude,longitude,eggs per 100 cc"}
	for i := range 1700 {
		lines = append(lines, fmt.Sprintf("2011,41.%06d N,%d.123456789,%d", i, 1+i%90, i))
	}
	s, err := Open([]byte(strings.Join(lines, "\n")), nil)
	require.NoError(t, err)
	g, last := &square{}, 0
	v, err := Judge(context.Background(), s, Guess(s), setup(), ground(), g, func(rows int) { last = rows })
	require.NoError(t, err)
	require.Equal(t, [4]int{1700, 1700, 4, batch}, [4]int{len(v.Kept), last, g.batches, g.most}, "%v", v.Kinds)
	west := verdictOf(t, "year,lat,lon,eggs per 100 cc\n2011,41.5,93.6 W,1\n2011,41.5,-93.6,1\n2011,,5,1\n", setup())
	require.Equal(t, map[tabular.Problem]int{Outside: 2, assay.Missing: 1}, west.Kinds)
}

// The digest is of what is kept: order, form and the names of farms change
// nothing; a figure, or which rows are one farm's, changes it.
func TestDigest(t *testing.T) {
	base := verdictOf(t, "year,twp,eggs per 100 cc,farm\n2011,21-8,1,a\n2011,21-8,2,a\n2012,22N 8E,3,b\n2012,22N 8E,4,\n", setup()).Digest
	same := verdictOf(t, "farm;year;twp;eggs per 100 cc\n;2012;NE 5 22N 8E;4\nzz;fall 2012;Liberty, Plover County;3\nq;2011;T21N R8E;2\nq;2011;21-8;1\n", setup()).Digest
	require.Equal(t, base, same)
	for _, other := range []string{"2011,21-8,1,a\n2011,21-8,2,b\n2012,22N 8E,3,b\n2012,22N 8E,4,\n", "2011,21-8,1,a\n2011,21-8,2,a\n2012,22N 8E,3,\n2012,22N 8E,4,\n",
		"2011,21-8,1,a\n2011,21-8,2,a\n2012,22N 8E,3,b\n2012,22N 8E,5,\n"} {
		require.NotEqual(t, base, verdictOf(t, "year,twp,eggs per 100 cc,farm\n"+other, setup()).Digest)
	}
}

// However files and forms come, never more senders are counted than there are
// farms. Farms are known here and nowhere else: a file tells its own apart, a
// form says truly whether it is the farm's first form.
func TestNeverMoreSendersThanFarms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := farmWorld{rng: rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)), farms: rapid.IntRange(1, 5).Draw(t, "farms"), year: 2018}
		w.others = Others{Falls: map[int]bool{}, Firsts: map[int]bool{}}
		for range rapid.IntRange(1, 6).Draw(t, "sources") {
			switch w.rng.IntN(3) {
			case 0:
				w.year++
			case 1:
				w.form()
			default:
				w.file()
			}
		}
		for mask := 1; mask < 8; mask++ { // every union of places
			var set []edition.Pending
			var who []int
			for i, p := range w.all {
				if mask&(1<<p.Place) != 0 {
					set, who = append(set, p), append(who, w.owner[i])
				}
			}
			slices.Sort(who)
			require.LessOrEqual(t, edition.Senders(set), len(slices.Compact(who)))
		}
	})
}

// farmWorld is one county whose farms are known.
type farmWorld struct {
	rng         *rand.Rand
	farms, year int
	all         []edition.Pending
	owner       []int
	past        []bool
	others      Others
	sender      byte
}

func (w *farmWorld) add(p edition.Pending, farm int, past bool) {
	p.Place, p.Received, p.Counted = place.ID(w.rng.IntN(3)), true, true
	w.all, w.owner, w.past = append(w.all, p), append(w.owner, farm), append(w.past, past)
	w.others.Falls[p.Season] = true
}

// form is a visit by a farm this fall.
func (w *farmWorld) form() {
	farm, standing := w.rng.IntN(w.farms), edition.FirstEver
	for i, p := range w.all {
		switch {
		case w.past[i] && p.Season < w.year && standing == edition.FirstEver:
			standing = Lowered // as the store does
		case !w.past[i] && w.owner[i] == farm && p.Season == w.year:
			standing = edition.Already
		case !w.past[i] && w.owner[i] == farm && standing == edition.FirstEver:
			standing = edition.Earlier
		}
	}
	w.sender++
	w.add(edition.Pending{Sender: edition.SenderID{w.sender}, Standing: standing, Season: w.year}, farm, false)
}

// file is a file of falls that are over.
func (w *farmWorld) file() {
	var rows []Kept
	for range 1 + w.rng.IntN(6) {
		rows = append(rows, Kept{Season: w.year - 1 - w.rng.IntN(5), Spot: Spot{place.ID(w.rng.IntN(3)), 7}, Farm: 1 + w.rng.IntN(w.farms)})
	}
	base, firsts := w.sender, []int{}
	w.sender += byte(w.farms)
	for i, standing := range Standings(rows, map[place.ID]Others{7: w.others}) {
		k := rows[i]
		w.all = append(w.all, edition.Pending{Sender: edition.SenderID{base + byte(k.Farm)}, Standing: standing, Season: k.Season, Place: k.Place, Received: true, Counted: true})
		w.owner, w.past = append(w.owner, k.Farm-1), append(w.past, true)
		if standing == edition.FirstEver {
			firsts = append(firsts, k.Season)
		}
	}
	for _, k := range rows {
		w.others.Falls[k.Season] = true
		for i, p := range w.all {
			if !w.past[i] && p.Season > k.Season && p.Standing == edition.FirstEver {
				w.all[i].Standing = Lowered
			}
		}
	}
	for _, s := range firsts {
		w.others.Firsts[s] = true
	}
}

func FuzzJudge(f *testing.F) {
	f.Add([]byte("year,twp,eggs per 100 cc,farm\n2011,21-8,1,a\n"))
	f.Add([]byte("date;lat;lon;level\n1/2/1999;41,5;-93.2 W;high\n\xff\xfe"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Open(data, nil)
		if err != nil {
			return
		}
		v, err := Judge(context.Background(), s, Guess(s), setup(), ground(), &square{}, func(int) {})
		if err != nil {
			return
		}
		require.Equal(t, v.Rows, len(v.Kept)+v.BadRows)
		for _, k := range v.Kept {
			require.NotZero(t, k.Place)
			require.NotZero(t, k.County)
			require.True(t, k.Season >= 1950 && k.Season <= 2025)
			require.True(t, k.Reading.Density >= 0 && k.Reading.Density <= assay.MaxDensity)
		}
	})
}
