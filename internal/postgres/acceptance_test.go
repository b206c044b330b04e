package postgres_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/bag"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// What an office would try first when it is told what the program promises. The
// 900 wet bags are in package web, through the pages; the photocopy of a
// photocopy in internal/press.

// county is the newest edition's view of the first county.
func (o *office) county() *gazette.CountyView {
	o.t.Helper()
	pub := postgres.NewPublished(o.public)
	v, err := pub.Version(ctxOf(o.t))
	require.NoError(o.t, err)
	issue, err := pub.Issue(ctxOf(o.t), v.Number)
	require.NoError(o.t, err)
	index, err := gazette.NewIndex(issue)
	require.NoError(o.t, err)
	for _, c := range index.State().Counties {
		if c.ID == o.counties[0].ID {
			return c
		}
	}
	o.t.Fatal("the county is not in the edition")
	return nil
}

func (o *office) area(id place.ID) gazette.TownshipView {
	o.t.Helper()
	v := o.county()
	i := slices.IndexFunc(v.Areas, func(a gazette.TownshipView) bool { return a.ID == id })
	require.GreaterOrEqual(o.t, i, 0)
	return v.Areas[i]
}

// One grower sends from one township in three falls, each time from another
// phone and with another bundle. It looks like three senders and is one: the
// township stays blank, whatever was tapped, while one with three farms shows.
func TestOneGrowerThreeFallsThreePhones(t *testing.T) {
	for name, taps := range map[string][3]sample.Standing{
		"honest":       {sample.FirstEver, sample.Earlier, sample.Earlier},
		"never tapped": {sample.Already, sample.Already, sample.Already},
		"forgetful":    {sample.Earlier, sample.Already, sample.Earlier},
	} {
		t.Run(name, func(t *testing.T) {
			o := newOffice(t)
			towns := o.townships[o.counties[0].ID]
			alone, three := towns[5].ID, towns[9].ID
			for i, tap := range taps {
				season := 2020 + i
				for _, c := range o.bags(2) {
					o.take(o.visit(tap, alone, season, c)) // a token a visit: nothing ties the phones
					o.counted(c, 60, date(season, 11, 1))
				}
				o.farms(3, three, season, 10)
				o.release(date(season, 12, 31), date(season+1, 1, 15))
				require.False(t, o.area(alone).HasFigures(), "January %d", season+1)
				require.Empty(t, o.area(alone).Joined, "nor together with its neighbors")
				require.True(t, o.area(three).HasFigures(), "January %d", season+1)
			}
			require.Equal(t, 6, o.count(`SELECT count(*) FROM priv.bag WHERE state = 'signed'`), "counted, answered, and on no map")
		})
	}
}

// An adviser's box holds a bag each of twelve growers, sent on one form with a
// divider between growers. The divider makes twelve senders of it; without it
// the box is one sender, and its township waits.
func TestABoxOfTwelveGrowers(t *testing.T) {
	o := newOffice(t)
	towns := o.townships[o.counties[0].ID]
	divided, lumped := towns[5], towns[9]
	places := func(id place.ID) (place.Place, bool) {
		for _, p := range append(slices.Clone(towns), o.counties...) {
			if p.ID == id {
				return p, true
			}
		}
		return place.Place{}, false
	}
	ground := sample.Ground{Today: date(2020, 10, 12), Places: places,
		Seasons: []sample.Season{{Year: 2020, Opens: date(2020, 8, 1), Closes: date(2021, 7, 31)}}}
	send := func(where place.Place, grower func(i int) int) {
		form := sample.Form{Token: o.token().String()}
		codes := o.bags(12)
		for i, c := range codes {
			form.Bags = append(form.Bags, sample.FormBag{Grower: grower(i), Code: c.String(), County: fmt.Sprint(where.County), Township: fmt.Sprint(where.ID),
				Day: "2020-10-10", Harvest: "after", Crop: "soybean"})
			form.Standings = append(form.Standings, "first")
		}
		v, err := sample.NewVisit(form, ground)
		require.NoError(t, err)
		o.take(v)
		for _, c := range codes {
			o.counted(c, 10, date(2020, 11, 1))
		}
	}
	send(divided, func(i int) int { return i })
	send(lumped, func(int) int { return 0 })

	p, err := postgres.NewReleases(o.staff).Preview(ctxOf(t), date(2020, 12, 31), date(2021, 1, 15))
	require.NoError(t, err)
	require.Len(t, p.Drafts, 1)
	require.Equal(t, []place.ID{divided.ID}, p.Drafts[0].Places)
	require.Equal(t, 12, p.Drafts[0].Senders, "twelve growers count twelve")
	require.Len(t, p.Waiting, 1)
	require.Equal(t, lumped.ID, p.Waiting[0].Place)
	require.Equal(t, 1, p.Waiting[0].Senders)
	require.Contains(t, p.Waiting[0].Reasons, edition.TooFewSenders)
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	require.Equal(t, 12, o.area(divided.ID).Samples)
	require.False(t, o.area(lumped.ID).HasFigures())
}

// Twelve farms send a bag each, two from each of six townships, and one of the
// bags has 9,000 eggs per 100 cm³. On release day the county's figure of the fall
// says so; no township does. What the page makes of it is tested in web/open.
func TestOneLargeFindAmongTwelveBags(t *testing.T) {
	o := newOffice(t)
	towns := o.townships[o.counties[0].ID]
	for i, c := range o.bags(12) {
		o.take(o.visit(sample.FirstEver, towns[2*(i/2)].ID, 2020, c))
		eggs := 0
		if i == 7 {
			eggs = 180 // in 2 of 100 mL, from 100 cm³: 9,000 (handbook section 3)
		}
		o.counted(c, eggs, date(2020, 11, 1))
	}
	o.release(date(2020, 12, 31), date(2021, 1, 15))
	v := o.county()
	require.True(t, v.HasFall)
	require.Equal(t, 10, v.Fall.Samples, "about ten, of twelve")
	require.True(t, v.Fall.SevenOrFewer())
	require.Equal(t, gazette.Level{Rank: 3, Exact: true}, v.Fall.Highest, "moderate: over 2,000, up to 12,000")
	require.Zero(t, v.Shown)
	require.False(t, v.HasFigures())
	for _, a := range v.Areas {
		require.False(t, a.HasFigures(), a.Name)
		require.Empty(t, a.Joined, a.Name)
	}
}

// A grower without a phone takes a bundle of six, writes each field on its stub
// and sends slips in pencil. The lab keys them; each stub opens its own answer and
// no other's, and the printed slips are for the same six codes. Nothing in the
// tables that know of bags could hold a name: text in them is codes, dates and
// words of closed lists.
func TestAPaperGrowersSixBags(t *testing.T) {
	o := newOffice(t)
	ctx := ctxOf(t)
	codes := o.sealed(6)[0]
	where := o.townships[o.counties[0].ID][3].ID
	fields := []string{"home forty", "creek bottom", "sand hill", "church eighty", "north of the road", "behind the bins"}
	type stub struct {
		code  bag.Code
		words bag.Words
	}
	drawer := map[string]stub{} // in the grower's kitchen, and nowhere else
	eggs := map[string]int{}
	for i, field := range fields {
		drawer[field] = stub{codes[i], o.wordsOf(codes[i])}
		eggs[field] = []int{0, 3, 12, 42, 120, 260}[i]
		require.NoError(t, postgres.NewBags(o.staff).KeySlip(ctx, o.visit(sample.FirstEver, where, 2020, codes[i]), date(2020, 11, 1)))
		o.counted(codes[i], eggs[field], date(2020, 11, 2))
	}
	require.Equal(t, 1, o.count(`SELECT count(DISTINCT priv.root_sender(sender)) FROM priv.sample WHERE sender IS NOT NULL`), "one bundle, one sender")

	intake, answered := postgres.NewIntake(o.public), 0
	for field, s := range drawer {
		a, err := intake.StubAnswer(ctx, s.code, s.words, date(2020, 12, 1))
		require.NoError(t, err, field)
		require.Equal(t, eggs[field], a.Result.Eggs, field)
		answered++
		for other, o := range drawer {
			if other != field {
				_, err = intake.StubAnswer(ctx, s.code, o.words, date(2020, 12, 1))
				require.ErrorIs(t, err, fault.ErrNotFound, "%s with the words of %s", field, other)
			}
		}
	}
	require.Equal(t, 6, answered)
	var printed []bag.Code
	batches, err := postgres.NewSignOff(o.staff).Batches(ctx, 20)
	require.NoError(t, err)
	for _, b := range batches {
		slips, err := postgres.NewSignOff(o.staff).Slips(ctx, b.ID)
		require.NoError(t, err)
		for _, s := range slips {
			printed = append(printed, s.Code)
		}
	}
	require.ElementsMatch(t, codes, printed)

	require.Equal(t, textThatMayBeHeld, o.textColumns())
}

// textThatMayBeHeld are the columns of text of every table that knows of a bag,
// a sample or a sender: hashes, codes, lists of numbers, and words of closed lists.
// A new one has to be argued for here.
var textThatMayBeHeld = strings.Fields(`
	answer_key.hash answer_key.kind
	bag.code bag.condition bag.state bag_link.bag
	form_post.visit lot.form
	queue_item.code queue_item.reason queue_item.visit
	result.kind result.limits_by result.portion_eggs result.portion_ml result.reason result.unit
	sample.answers sample.source
	seat.bag
	stray.code stray.fate stray.form stray.kind`)

// textColumns lists them as table.column.
func (o *office) textColumns() (out []string) {
	o.t.Helper()
	rows, err := open(o.t, o.logins.Admin).Query(ctxOf(o.t), `
		SELECT c.table_name || '.' || c.column_name
		FROM information_schema.columns c
		WHERE c.table_schema = 'priv' AND c.data_type IN ('text', 'character varying', 'json', 'jsonb', 'ARRAY', 'bytea')
		  AND c.table_name IN ('bag', 'bundle', 'sender', 'lot', 'sample', 'bag_link', 'result', 'answer_key', 'form_post', 'queue_item', 'seat', 'stray', 'stub_try')
		ORDER BY 1`)
	require.NoError(o.t, err)
	defer rows.Close()
	for rows.Next() {
		var s string
		require.NoError(o.t, rows.Scan(&s))
		out = append(out, s)
	}
	require.NoError(o.t, rows.Err())
	return out
}
