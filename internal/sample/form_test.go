package sample

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/place"
)

func date(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

var today = date(2026, time.November, 14)

var seasons = []Season{
	{Year: 2026, Opens: date(2026, time.August, 1), Closes: date(2027, time.June, 15)},
	{Year: 2025, Opens: date(2025, time.August, 1), Closes: date(2026, time.June, 15)},
}

var places = []place.Place{
	{ID: 1, Kind: place.County, Name: "Plover", Slug: "plover"},
	{ID: 2, Kind: place.County, Name: "Sedge", Slug: "sedge"},
	{ID: 11, Kind: place.Township, Code: "T21N R8E", Name: "T21N R8E", County: 1},
	{ID: 12, Kind: place.Township, Code: "T21N R9E", Name: "T21N R9E", County: 1},
	{ID: 21, Kind: place.Township, Code: "T22N R8E", Name: "T22N R8E", County: 2},
	{ID: 31, Kind: place.District, Code: "1", Name: "1", County: 1},
}

func ground() Ground {
	return Ground{Today: today, Seasons: seasons, Places: func(id place.ID) (place.Place, bool) {
		i := slices.IndexFunc(places, func(p place.Place) bool { return p.ID == id })
		if i < 0 {
			return place.Place{}, false
		}
		return places[i], true
	}}
}

// codes draws n codes as the office would.
func codes(t interface {
	Errorf(string, ...any)
	FailNow()
}, n int) []bag.Code {
	source := bytes.NewReader(bytes.Repeat([]byte("a stream that is long enough to draw from, 0123456789"), 200))
	var out []bag.Code
	for len(out) < n {
		c, err := bag.Draw(source)
		require.NoError(t, err)
		if !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	return out
}

func validForm(t *testing.T) Form {
	token, err := NewToken(bytes.NewReader(make([]byte, 16)))
	require.NoError(t, err)
	return Form{Token: token.String(), Standings: []string{"first"}, Bags: []FormBag{{
		Code: codes(t, 1)[0].String(), County: "1", Township: "11", Day: "2026-10-31",
		Harvest: "after", Crop: "soybean", NextCrop: "corn", Resistance: "pi88788",
	}}}
}

func TestNewVisit(t *testing.T) {
	v, err := NewVisit(validForm(t), ground())
	require.NoError(t, err)
	require.Equal(t, []Sender{{Standing: FirstEver, Bags: []Bag{{
		Code: codes(t, 1)[0], Place: 11, Season: 2026, Day: date(2026, time.October, 31),
		Answers: Answers{Harvest: "after", Crop: "soybean", NextCrop: "corn", Resistance: "pi88788"},
	}}}}, v.Senders)
}

// Every message there is, at the field it belongs to, and as a sentence.
func TestNewVisitRefuses(t *testing.T) {
	good := codes(t, 2)
	wrongCheck := []byte(good[0])
	// Two letters of the alphabet in the last place: at least one is not the check character.
	wrongCheck[7] = bag.Alphabet[0]
	if string(wrongCheck) == string(good[0]) {
		wrongCheck[7] = bag.Alphabet[1]
	}
	tests := map[string]struct {
		spoil      func(*Form)
		field, key string
	}{
		"no token":              {func(f *Form) { f.Token = "" }, "", "send.error.token"},
		"broken token":          {func(f *Form) { f.Token = "AAAA" }, "", "send.error.token"},
		"no bags":               {func(f *Form) { f.Bags = nil }, "", "send.error.nobags"},
		"too many bags":         {func(f *Form) { f.Bags = slices.Repeat(f.Bags, MaxBags+1) }, "", "send.error.toomany"},
		"grower out of range":   {func(f *Form) { f.Bags[0].Grower = MaxBags }, "", "send.error.token"},
		"grower below zero":     {func(f *Form) { f.Bags[0].Grower = -1 }, "", "send.error.token"},
		"no code":               {func(f *Form) { f.Bags[0].Code = " - " }, "bag.0.code", "send.error.code.empty"},
		"short code":            {func(f *Form) { f.Bags[0].Code = "K7QF" }, "bag.0.code", "send.error.code.length"},
		"look-alike in code":    {func(f *Form) { f.Bags[0].Code = "K7QF-2M0X" }, "bag.0.code", "send.error.code.lookalike"},
		"strange sign in code":  {func(f *Form) { f.Bags[0].Code = "K7QF-2M*X" }, "bag.0.code", "send.error.code.letter"},
		"check character":       {func(f *Form) { f.Bags[0].Code = string(wrongCheck) }, "bag.0.code", "send.error.code.check"},
		"same code twice":       {func(f *Form) { f.Bags = append(f.Bags, f.Bags[0]) }, "bag.1.code", "send.error.twice"},
		"no county":             {func(f *Form) { f.Bags[0].County = "" }, "bag.0.county", "send.error.county"},
		"unknown county":        {func(f *Form) { f.Bags[0].County = "99" }, "bag.0.county", "send.error.county"},
		"county is a township":  {func(f *Form) { f.Bags[0].County = "11" }, "bag.0.county", "send.error.county"},
		"county is too large":   {func(f *Form) { f.Bags[0].County = "4294967297" }, "bag.0.county", "send.error.county"},
		"no township":           {func(f *Form) { f.Bags[0].Township = "" }, "bag.0.township", "send.error.township"},
		"township elsewhere":    {func(f *Form) { f.Bags[0].Township = "21" }, "bag.0.township", "send.error.othercounty"},
		"township is district":  {func(f *Form) { f.Bags[0].Township = "31" }, "bag.0.township", "send.error.othercounty"},
		"township is no number": {func(f *Form) { f.Bags[0].Township = "T21N" }, "bag.0.township", "send.error.othercounty"},
		"no day":                {func(f *Form) { f.Bags[0].Day = " " }, "bag.0.day", "send.error.day.empty"},
		"not a day":             {func(f *Form) { f.Bags[0].Day = "last Friday" }, "bag.0.day", "send.error.day.format"},
		"no such day":           {func(f *Form) { f.Bags[0].Day = "2026-02-30" }, "bag.0.day", "send.error.day.format"},
		"tomorrow":              {func(f *Form) { f.Bags[0].Day = "2026-11-15" }, "bag.0.day", "send.error.day.future"},
		"out of season":         {func(f *Form) { f.Bags[0].Day = "2026-07-04" }, "bag.0.day", "send.error.day.season"},
		"harvest":               {func(f *Form) { f.Bags[0].Harvest = "x" }, "bag.0.harvest", "send.error.choice"},
		"crop":                  {func(f *Form) { f.Bags[0].Crop = "Soybean" }, "bag.0.crop", "send.error.choice"},
		"next crop":             {func(f *Form) { f.Bags[0].NextCrop = "x" }, "bag.0.next_crop", "send.error.choice"},
		"resistance":            {func(f *Form) { f.Bags[0].Resistance = "x" }, "bag.0.resistance", "send.error.choice"},
		"crop before":           {func(f *Form) { f.Bags[0].CropBefore = "x" }, "bag.0.crop_before", "send.error.choice"},
		"crop two before":       {func(f *Form) { f.Bags[0].CropTwo = "x" }, "bag.0.crop_two", "send.error.choice"},
		"tillage":               {func(f *Form) { f.Bags[0].Tillage = "x" }, "bag.0.tillage", "send.error.choice"},
		"texture":               {func(f *Form) { f.Bags[0].Texture = "x" }, "bag.0.texture", "send.error.choice"},
		"ph":                    {func(f *Form) { f.Bags[0].PH = "x" }, "bag.0.ph", "send.error.choice"},
		"acres":                 {func(f *Form) { f.Bags[0].Acres = "x" }, "bag.0.acres", "send.error.choice"},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			f := validForm(t)
			tt.spoil(&f)
			v, err := NewVisit(f, ground())
			require.Empty(t, v.Senders, "a refused form gives nothing to store")
			var bad *fault.Invalid
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tt.key, bad.Fields[tt.field].Key, "all problems: %v", bad)
			require.Len(t, bad.Fields, 1, "one mistake is one problem")
			sentence := catalog.English().Say(tt.key, bad.Fields[tt.field].Args...)
			require.NotContains(t, sentence, "[", "no such sentence")
			require.NotContains(t, sentence, "{", "an argument is missing")
		})
	}
}

func TestNewVisitNamesEveryFieldAtFault(t *testing.T) {
	f := validForm(t)
	f.Bags = append(f.Bags, FormBag{})
	_, err := NewVisit(f, ground())
	var bad *fault.Invalid
	require.ErrorAs(t, err, &bad)
	require.Len(t, bad.Fields, 3)
	for _, field := range []string{"bag.1.code", "bag.1.county", "bag.1.day"} {
		require.Contains(t, bad.Fields, field)
	}
	require.NotContains(t, err.Error(), f.Bags[0].Code, "an error never repeats what was typed")
}

func TestStanding(t *testing.T) {
	for in, want := range map[string]Standing{"first": FirstEver, "earlier": Earlier, "already": Already, "": Already, "x": Already} {
		f := validForm(t)
		f.Standings = []string{in}
		v, err := NewVisit(f, ground())
		require.NoError(t, err)
		require.Equal(t, want, v.Senders[0].Standing, "%q", in)
	}
	f := validForm(t)
	f.Standings = nil
	v, err := NewVisit(f, ground())
	require.NoError(t, err)
	require.Equal(t, Already, v.Senders[0].Standing, "no answer never makes a farm look new")
}

func TestNewVisitKeepsGrowersApart(t *testing.T) {
	f := validForm(t)
	c := codes(t, 3)
	f.Standings = []string{"first", "", "earlier"}
	second, third := f.Bags[0], f.Bags[0]
	second.Code, second.Township = string(c[1]), CountyOnly
	third.Code, third.Grower = strings.ToLower(string(c[2])), 2
	f.Bags = append(f.Bags, second, third)
	v, err := NewVisit(f, ground())
	require.NoError(t, err)
	require.Len(t, v.Senders, 2, "a grower without bags is none")
	require.Len(t, v.Senders[0].Bags, 2)
	require.Equal(t, place.ID(1), v.Senders[0].Bags[1].Place, "the county alone")
	require.Equal(t, Earlier, v.Senders[1].Standing)
	require.Equal(t, c[2], v.Senders[1].Bags[0].Code)
}

// A spring bag belongs to the fall before; both ends of a season are in it.
func TestSeasonOf(t *testing.T) {
	for day, want := range map[time.Time]int{
		date(2026, time.August, 1): 2026, date(2027, time.June, 15): 2026, date(2026, time.May, 2): 2025,
		date(2026, time.July, 31): 0, date(2027, time.June, 16): 0,
	} {
		s, ok := SeasonOf(day, seasons)
		require.Equal(t, want, s.Year, day)
		require.Equal(t, want != 0, ok, day)
	}
}

// A form made of choices the page offers comes through whole: what is stored
// says what was typed, neither less nor more.
func TestValidFormRoundTrips(t *testing.T) {
	drawn := codes(t, 12)
	rapid.Check(t, func(rt *rapid.T) {
		pick := func(name string, choices []string) string {
			return rapid.SampledFrom(append([]string{""}, choices...)).Draw(rt, name)
		}
		f := Form{Token: Token(rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(rt, "token")).String()}
		n, grower := rapid.IntRange(1, len(drawn)).Draw(rt, "bags"), 0
		for i := range n {
			if i > 0 && rapid.Bool().Draw(rt, "next grower") {
				grower++
			}
			town := places[rapid.IntRange(2, 4).Draw(rt, "township")]
			day := date(2026, time.August, 1).AddDate(0, 0, rapid.IntRange(0, 105).Draw(rt, "day"))
			b := FormBag{
				Grower: grower, Code: drawn[i].String(), County: fmt.Sprint(town.County), Township: fmt.Sprint(town.ID),
				Day:     day.Format(rapid.SampledFrom([]string{"2006-01-02", "1/2/2006", "01/02/06"}).Draw(rt, "layout")),
				Harvest: pick("harvest", Harvests), Crop: pick("crop", Crops), NextCrop: pick("next", Crops),
				Resistance: pick("resistance", Resistances), CropBefore: pick("before", Crops), CropTwo: pick("two", Crops),
				Tillage: pick("tillage", Tillages), Texture: pick("texture", Textures), PH: pick("ph", PHs), Acres: pick("acres", Acreses),
			}
			if rapid.Bool().Draw(rt, "county only") {
				b.Township = CountyOnly
			}
			f.Bags = append(f.Bags, b)
		}
		for range grower + 1 {
			f.Standings = append(f.Standings, pick("standing", []string{"first", "earlier", "already"}))
		}
		v, err := NewVisit(f, ground())
		require.NoError(rt, err)
		back := asForm(v)
		require.Equal(rt, canonical(f), back)
		again, err := NewVisit(back, ground())
		require.NoError(rt, err)
		require.Equal(rt, v, again)
	})
}

// asForm writes a visit as the form that says it.
func asForm(v Visit) Form {
	f := Form{Token: v.Token.String()}
	for g, s := range v.Senders {
		f.Standings = append(f.Standings, [...]string{"already", "earlier", "first"}[s.Standing])
		for _, b := range s.Bags {
			p, _ := ground().Places(b.Place)
			county, township := p.County, fmt.Sprint(p.ID)
			if p.Kind == place.County {
				county, township = p.ID, CountyOnly
			}
			a := b.Answers
			f.Bags = append(f.Bags, FormBag{g, b.Code.String(), fmt.Sprint(county), township, b.Day.Format(time.DateOnly),
				a.Harvest, a.Crop, a.NextCrop, a.Resistance, a.CropBefore, a.CropTwo, a.Tillage, a.Texture, a.PH, a.Acres})
		}
	}
	return f
}

// canonical is the form with days as browsers write them and standings said.
func canonical(f Form) Form {
	f.Bags, f.Standings = slices.Clone(f.Bags), slices.Clone(f.Standings)
	for i, b := range f.Bags {
		d, err := ParseDay(b.Day)
		if err == nil {
			f.Bags[i].Day = d.Format(time.DateOnly)
		}
	}
	for i, s := range f.Standings {
		if s == "" {
			f.Standings[i] = "already"
		}
	}
	return f
}

func TestParseDay(t *testing.T) {
	for in, want := range map[string]time.Time{
		"2026-10-31": date(2026, time.October, 31), "10/31/2026": date(2026, time.October, 31),
		" 1/2/2026 ": date(2026, time.January, 2), "10-31-2026": date(2026, time.October, 31),
		"10/31/26": date(2026, time.October, 31), "2028-02-29": date(2028, time.February, 29),
	} {
		got, err := ParseDay(in)
		require.NoError(t, err, in)
		require.Equal(t, want, got, in)
	}
	for _, in := range []string{"", "31/10/2026", "2026-13-01", "2027-02-29", "10/31", "20261031", "2026-10-31T10:00"} {
		_, err := ParseDay(in)
		require.Error(t, err, in)
	}
}

func FuzzParseDay(f *testing.F) {
	for _, s := range []string{"2026-10-31", "10/31/2026", "10-31-26", "", "0000-00-00", "9999-12-31", "٣/٣/٢٠٢٦"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		d, err := ParseDay(in)
		if err != nil {
			return
		}
		require.Equal(t, date(d.Year(), d.Month(), d.Day()), d, "a day has no clock time")
		again, err := ParseDay(d.Format(time.DateOnly))
		require.NoError(t, err)
		require.Equal(t, d, again)
	})
}

func FuzzParseToken(f *testing.F) {
	for _, s := range []string{"", "AAAAAAAAAAAAAAAAAAAAAA", "AAAAAAAAAAAAAAAAAAAAAB", "________--------______", strings.Repeat("=", 22)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		tok, err := ParseToken(in)
		sec, serr := ParseSecret(in)
		require.Equal(t, err == nil, serr == nil)
		if err != nil {
			require.ErrorIs(t, err, ErrToken)
			return
		}
		require.Equal(t, in, tok.String(), "a token is written one way only")
		require.Equal(t, in, sec.String())
	})
}

func TestTokens(t *testing.T) {
	token, err := NewToken(bytes.NewReader(bytes.Repeat([]byte{7}, 16)))
	require.NoError(t, err)
	c := codes(t, 2)
	require.Equal(t, token.Secret(c[0]), token.Secret(c[0]), "the same form gets the same links")
	require.NotEqual(t, token.Secret(c[0]), token.Secret(c[1]))
	require.NotEqual(t, token.Hash(), Secret(token).Hash(), "a token's hash opens no answer")
	raw, err := base64.RawURLEncoding.DecodeString(token.Secret(c[0]).String())
	require.NoError(t, err)
	require.Len(t, raw, 16, "128 bits")
	_, err = NewToken(bytes.NewReader(nil))
	require.Error(t, err)
	require.False(t, errors.Is(err, ErrToken))
	_, err = strconv.Atoi(token.String())
	require.Error(t, err)
}
