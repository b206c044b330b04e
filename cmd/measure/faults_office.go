package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/cluster"
	"sixmile/internal/desk"
	"sixmile/internal/geofile"
	"sixmile/internal/place"
	"sixmile/internal/postgres"
	"sixmile/internal/sample"
)

// bench is a small program that faults happen to.
type bench struct {
	ctx     context.Context
	program string // the built program's path
	dir     string // its data
	put     func(row)
	log     io.Writer
	doses   doses

	townships []place.Place
	forms     []bag.Code // for forms
	counts    []bag.Code // with form and soil, for counts
	sent      bag.Code   // of a released edition
	token     account.Token
	today     time.Time
}

func calendarDay() time.Time {
	y, m, d := time.Now().Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// setUp makes a program with one edition, bags for forms, bags for counts, and a
// technician who is signed in.
func (b *bench) setUp(forms, counts int) (err error) {
	b.today = calendarDay()
	b.forms, b.counts = nil, nil
	if _, err := cluster.Ensure(b.ctx, b.log); err != nil {
		return err
	}
	c, err := cluster.Open(b.ctx, cluster.Options{Dir: b.dir})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Stop()) }()
	if _, err := c.CreateDatabase(b.ctx, "sixmile"); err != nil {
		return err
	}
	logins, err := postgres.Provision(b.ctx, c.DSN("sixmile", ""))
	if err != nil {
		return err
	}
	staff, err := postgres.Open(b.ctx, logins.Staff)
	if err != nil {
		return err
	}
	defer staff.Close()
	public, err := postgres.Open(b.ctx, logins.Public)
	if err != nil {
		return err
	}
	defer public.Close()
	if err := b.found(staff); err != nil {
		return err
	}
	bags, err := b.bags(staff, forms+counts+4)
	if err != nil {
		return err
	}
	b.forms, bags = bags[:forms], bags[forms:]
	b.counts, b.sent = bags[4:], bags[0]
	intake := postgres.NewIntake(public)
	for i, code := range bags {
		where := b.townships[0].ID // the released township; the rest waits elsewhere
		if i >= 4 {
			where = b.townships[1+i%3].ID
		}
		v := sample.Visit{Senders: []sample.Sender{{Standing: sample.FirstEver, Bags: []sample.Bag{{
			Code: code, Place: where, Season: b.today.Year(), Day: b.today, Answers: sample.Answers{Crop: "soybean"}}}}}}
		copy(v.Token[:], code)
		if err := intake.Take(b.ctx, v, b.today); err != nil {
			return err
		}
		if err := postgres.NewBags(staff).LogIn(b.ctx, code, b.today); err != nil {
			return err
		}
	}
	if err := b.release(staff, bags[:4]); err != nil {
		return err
	}
	return b.technician(staff)
}

func (b *bench) found(staff *postgres.Pool) error {
	program := postgres.NewProgram(staff)
	if err := program.Found(b.ctx, desk.About{Name: "Fault Watch", State: "Nowhere"}); err != nil {
		return err
	}
	set, err := square()
	if err != nil {
		return err
	}
	if _, err := postgres.NewBoundaries(staff).Accept(b.ctx, set, b.today); err != nil {
		return err
	}
	err = program.AddSeason(b.ctx, sample.Season{Year: b.today.Year(), Opens: b.today.AddDate(0, 0, -30), Closes: b.today.AddDate(0, 0, 60)})
	if err != nil {
		return err
	}
	places, err := program.Places(b.ctx)
	b.townships = nil
	for _, p := range places {
		if p.Kind == place.Township {
			b.townships = append(b.townships, p)
		}
	}
	return err
}

// square is one county of four townships.
func square() (geofile.Set, error) {
	box := func(x, y, size float64, properties string) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{%[5]s},"geometry":{"type":"Polygon","coordinates":[[[%[1]g,%[2]g],[%[3]g,%[2]g],[%[3]g,%[4]g],[%[1]g,%[4]g],[%[1]g,%[2]g]]]}}`,
			x, y, x+size, y+size, properties)
	}
	var townships []string
	for i := range 4 {
		townships = append(townships, box(-40+.1*float64(i%2), 40+.1*float64(i/2), .1,
			fmt.Sprintf(`"code":"T%dN R%dE","name":"Town %d","county":"001"`, i/2+1, i%2+1, i+1)))
	}
	layer := func(f string) (geofile.Layer, error) {
		return geofile.ReadGeoJSON(strings.NewReader(`{"type":"FeatureCollection","features":[`+f+`]}`), geofile.DefaultLimits())
	}
	counties, err := layer(box(-40, 40, .2, `"code":"001","name":"Amber"`))
	if err != nil {
		return geofile.Set{}, err
	}
	towns, err := layer(strings.Join(townships, ","))
	if err != nil {
		return geofile.Set{}, err
	}
	return geofile.NewSet(counties, towns, geofile.Fields{Code: "code", Name: "name"}, geofile.Fields{Code: "code", Name: "name", County: "county"})
}

func (b *bench) bags(staff *postgres.Pool, n int) ([]bag.Code, error) {
	sizes := make([]int, n)
	for i := range sizes {
		sizes[i] = 1
	}
	store := postgres.NewBags(staff)
	lot, err := store.Issue(b.ctx, b.townships[0].County, b.today.Year(), sizes, b.today)
	if err != nil {
		return nil, err
	}
	bundles, _, err := store.Bundles(b.ctx, lot)
	var out []bag.Code
	for _, one := range bundles {
		out = append(out, one...)
	}
	return out, err
}

// release counts, signs and releases four bags.
func (b *bench) release(staff *postgres.Pool, codes []bag.Code) error {
	lab, m := postgres.NewLab(staff), assay.DefaultMethod()
	var heads []desk.ID
	for _, code := range codes {
		if err := lab.Record(b.ctx, desk.Keyed{Code: code, Method: m, Count: m.Count(12), Day: b.today}, account.ID{}); err != nil {
			return err
		}
		found, err := lab.Find(b.ctx, code)
		if err != nil {
			return err
		}
		heads = append(heads, found.Head)
	}
	if _, _, err := postgres.NewSignOff(staff).Sign(b.ctx, heads, account.ID{}, b.today); err != nil {
		return err
	}
	releases := postgres.NewReleases(staff)
	p, err := releases.Preview(b.ctx, b.today, b.today)
	if err != nil {
		return err
	}
	_, err = releases.Release(b.ctx, p.Number, b.today, b.today, p.Stamp, account.ID{})
	return err
}

func (b *bench) technician(staff *postgres.Pool) error {
	who, err := account.NewStaff("tech", "Technician", account.Technician, nil)
	if err != nil {
		return err
	}
	people := postgres.NewPeople(staff)
	if err := people.Add(b.ctx, who, "never signs in by a password"); err != nil {
		return err
	}
	list, err := people.List(b.ctx, b.today)
	if err != nil {
		return err
	}
	copy(b.token[:], "a session of the fault suite's own")
	return people.SignIn(b.ctx, list[0].ID, b.token, false, b.today)
}

// client gives a request up after more than the program's own patience.
func client() *http.Client {
	return &http.Client{
		Timeout: 40 * time.Second, Transport: &http.Transport{DisableCompression: true, MaxIdleConnsPerHost: 16},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}
