package office

import (
	"context"
	"crypto/rand"
	"net/http"
	"strconv"
	"time"

	"sixmile/internal/bag"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
	"sixmile/internal/place"
	"sixmile/internal/sample"
	"sixmile/web/shell"
)

// Lots issues bags to counties.
type Lots interface {
	// IssueOnce makes a lot of bundles of these sizes, in this order; the same form
	// again gives the lot that it made.
	IssueOnce(ctx context.Context, form sample.Token, county place.ID, season int, sizes []int, today time.Time) (desk.ID, error)
	Lots(ctx context.Context, season int) ([]desk.Lot, error)
	// Bundles: fault.ErrNotFound for no such lot.
	Bundles(ctx context.Context, lot desk.ID) ([][]bag.Code, place.ID, error)
	// StubWords are those of the bags that are still in the office.
	StubWords(ctx context.Context, lot desk.ID) (map[bag.Code]bag.Words, error)
}

// usualSizes is what the form starts with: as many bundles of four as of two
// and of one. Common practice of nobody: how many bags growers take has no
// source, and each county learns its own.
const usualSizes = "4, 2, 1"

// lotsView is the page of a season's lots.
type lotsView struct {
	Season  string
	Seasons []choice
	Lots    []lotRow
	Heads   []shell.ColumnHead // of the table of lots
	Total   lotRow
	Form    lotForm
	Ledgers []lotLedger
	Issued  string // what was just issued, in a sentence
	Sheets  string // and where its sheets are
}

// choice is one entry of a list to pick from.
type choice struct {
	Value, Name string
	Chosen      bool
}

// lotLedger accounts for one lot.
type lotLedger struct {
	County string
	ledgerView
}

// lotRow is a line of the table of lots.
type lotRow struct {
	County, Issued                                  string
	Bags, Bundles, FormsIn, SoilIn, Counted, Voided int
	Sheets                                          string // address
	New                                             bool

	issued time.Time
}

// lotForm is the form that issues bags.
type lotForm struct {
	Token                       string
	County, Bags, Sizes, Season field
	Counties, Seasons           []choice
	Plan                        []string // the bundles it would be cut into
	Refused                     []refusal
}

func (o *office) lotsShow(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	token, err := sample.NewToken(rand.Reader)
	if err != nil {
		return err
	}
	// A plan's link fills the form in.
	typed := typedLot{Token: token.String(), Season: q.Get("season"), Sizes: usualSizes, County: line(q, "county"), Bags: line(q, "bags")}
	v, err := o.lots(r.Context(), typed, nil)
	if err != nil {
		return err
	}
	v.markIssued(o.Lang, q.Get("issued"))
	return o.showLots(w, r, http.StatusOK, v)
}

func (o *office) showLots(w http.ResponseWriter, r *http.Request, status int, v lotsView) error {
	s := readSorting(r, "sort", "lots", "county", "bags")
	if v.Season != "" {
		s.query.Set("season", v.Season)
	}
	v.sort(o.Lang, s)
	p := o.page(r, o.Lang.Say("lots.title"))
	p.Wide = true
	return shell.Render(w, r, status, lotsPage(p, v))
}

// lots builds the page around what was typed. Its table is of the season that
// was picked, else of the current one.
func (o *office) lots(ctx context.Context, t typedLot, bad map[string]string) (lotsView, error) {
	places, err := o.Program.Places(ctx)
	if err != nil {
		return lotsView{}, err
	}
	seasons, err := o.Program.Seasons(ctx)
	if err != nil {
		return lotsView{}, err
	}
	v := lotsView{}
	if s, ok := pickSeason(seasons, t.Season, o.Today()); ok {
		v.Season, t.Season = strconv.Itoa(s.Year), strconv.Itoa(s.Year)
		lots, err := o.Lots.Lots(ctx, s.Year)
		if err != nil {
			return lotsView{}, err
		}
		v.Lots, v.Total = lotRows(o.Lang, newGazetteer(places), lots)
		ledgers, err := o.Ledgers.LotLedgers(ctx, s.Year)
		if err != nil {
			return lotsView{}, err
		}
		for _, l := range ledgers {
			v.Ledgers = append(v.Ledgers, lotLedger{newGazetteer(places).name(o.Lang, l.County), newLedgerView(o.Lang, "bag.state", l.Ledger)})
		}
	}
	for _, s := range seasons {
		year := strconv.Itoa(s.Year)
		v.Seasons = append(v.Seasons, choice{year, year, year == v.Season})
	}
	v.Form = newLotForm(t, counties(places), v.Seasons, bad)
	return v, nil
}

// pickSeason is the season of a typed year, else the current one.
func pickSeason(seasons []sample.Season, year string, today time.Time) (sample.Season, bool) {
	for _, s := range seasons {
		if strconv.Itoa(s.Year) == year {
			return s, true
		}
	}
	return currentSeason(seasons, today)
}

// lotRows are the table of lots and its last line, the totals.
func lotRows(l *catalog.Lang, g gazetteer, lots []desk.Lot) (rows []lotRow, total lotRow) {
	for _, lot := range lots {
		row := lotRow{
			County: g.name(l, lot.County), Issued: l.Date(lot.Issued), Bags: lot.Bags, Bundles: lot.Bundles,
			FormsIn: lot.FormsIn, SoilIn: lot.SoilIn, Counted: lot.Counted, Voided: lot.Voided, Sheets: sheetsPath(lot.ID),
			issued: lot.Issued,
		}
		rows = append(rows, row)
		total.Bags += lot.Bags
		total.Bundles += lot.Bundles
		total.FormsIn += lot.FormsIn
		total.SoilIn += lot.SoilIn
		total.Counted += lot.Counted
		total.Voided += lot.Voided
	}
	return rows, total
}

// sort sorts the table of lots.
func (v *lotsView) sort(l *catalog.Lang, s sorting) {
	v.Heads = arrange(&s, v.Lots,
		byWords("county", l.Say("lots.col.county"), func(r lotRow) string { return r.County }),
		byDay("", l.Say("lots.col.issued"), func(r lotRow) time.Time { return r.issued }),
		byNumber("bags", l.Say("lots.col.bags"), func(r lotRow) int { return r.Bags }),
		byNumber("bundles", l.Say("lots.col.bundles"), func(r lotRow) int { return r.Bundles }),
		byNumber("forms", l.Say("lots.col.forms"), func(r lotRow) int { return r.FormsIn }),
		byNumber("soil", l.Say("lots.col.soil"), func(r lotRow) int { return r.SoilIn }),
		byNumber("counted", l.Say("lots.col.counted"), func(r lotRow) int { return r.Counted }),
		byNumber("voided", l.Say("lots.col.voided"), func(r lotRow) int { return r.Voided }),
		notSorted[lotRow](l.Say("lots.col.sheets"), false))
}

func sheetsPath(id desk.ID) string { return "/office/lots/" + idText(id) + "/sheets.pdf" }

// markIssued says what was just issued, when the lot is in the table.
func (v *lotsView) markIssued(l *catalog.Lang, id string) {
	lot, ok := parseID(id)
	if !ok || id == "" {
		return
	}
	for i := range v.Lots {
		if v.Lots[i].Sheets == sheetsPath(lot) {
			v.Lots[i].New = true
			v.Issued = l.Count("lots.issued", v.Lots[i].Bags, "county", v.Lots[i].County)
			v.Sheets = v.Lots[i].Sheets
		}
	}
}
