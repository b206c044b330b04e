package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sixmile/internal/annual"
	"sixmile/internal/annual/parcel"
	"sixmile/internal/annual/tally"
	"sixmile/internal/catalog"
	"sixmile/internal/fault"
	"sixmile/internal/gazette"
	"sixmile/internal/money"
	"sixmile/internal/postgres"
)

type annualCommand struct {
	demoToo
	Copy    string   `help:"Whose copy: public, sponsor (bags and money rounded) or office (exact; not for release)." enum:"public,sponsor,office" default:"public"`
	Season  int      `help:"The fall's year; that of the edition where neither it nor --fiscal-year is given." xor:"year" placeholder:"YEAR"`
	Fiscal  int      `name:"fiscal-year" help:"Fiscal year, by the year it ends in." xor:"year" placeholder:"YEAR"`
	Begins  int      `help:"Month in which the fiscal year begins, 1 to 12; the one set in the office under Money where it is not given." placeholder:"MONTH"`
	Map     string   `help:"Code of the edition; the newest where it is not given." placeholder:"CODE"`
	Out     string   `help:"Folder for the archive; it is made if it is not there." default:"." type:"path" placeholder:"DIR"`
	Fee     string   `help:"The lab's fee for a bag counted, such as 20.00: for the sponsor's and the office's copy; that of today's prices where it is not given." placeholder:"AMOUNT"`
	Invoice []string `help:"An invoice of the lab as NUMBER:BAGS:AMOUNT, to be matched in the office's copy; may be given more than once." placeholder:"NUMBER:BAGS:AMOUNT"`
}

// Run writes the archive, then says what it is.
func (a annualCommand) Run(ctx context.Context, c console) (err error) {
	bill, err := a.bill()
	if err != nil {
		return err
	}
	o, err := a.open(ctx, c.err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	j, err := a.job(ctx, o)
	if err != nil {
		return err
	}
	if j.bill = bill; a.Fee == "" && a.Copy != string(annual.PublicName) {
		prices, err := postgres.NewMoney(o.staff).Prices(ctx)
		if err != nil {
			return err
		}
		now, _ := money.At(prices, today())
		j.bill.Fee = now.Fee
	}
	if err := os.MkdirAll(a.Out, 0o755); err != nil {
		return err
	}
	b := newBar(c.err)
	j.options.Progress = func(done, of int, file string) { b.show(file, float64(done)/float64(of)) }
	j.to = func(name string, write func(io.Writer) error) error { return a.save(c, name, write) }
	switch annual.Name(a.Copy) {
	case annual.OfficeName:
		return j.office(ctx)
	case annual.SponsorName:
		return j.sponsor(ctx)
	}
	return j.public(ctx)
}

// bill is the fee and the invoices as typed.
func (a annualCommand) bill() (b tally.Bill, err error) {
	if a.Fee != "" {
		if b.Fee, err = money.Parse(a.Fee); err != nil {
			return b, fmt.Errorf("--fee %q: %w", a.Fee, err)
		}
	}
	for _, text := range a.Invoice {
		i, err := tally.ParseInvoice(text)
		if err != nil {
			return b, fmt.Errorf("--invoice %q: %w", text, err)
		}
		b.Invoices = append(b.Invoices, i)
	}
	if len(b.Invoices) > 0 && a.Copy != string(annual.OfficeName) {
		return b, errors.New("--invoice: invoices are matched in the office's copy alone; add --copy office")
	}
	return b, nil
}

// save writes a file whole, or not at all.
func (a annualCommand) save(c console, name string, write func(io.Writer) error) (err error) {
	mode := os.FileMode(0o644)
	if a.Copy == string(annual.OfficeName) {
		mode = 0o600
	}
	path := filepath.Join(a.Out, name)
	f, err := os.OpenFile(path+".part", os.O_CREATE|os.O_TRUNC|os.O_WRONLY, mode)
	if err != nil {
		return err
	}
	err = errors.Join(write(f), f.Close())
	if err != nil {
		return errors.Join(err, os.Remove(path+".part"))
	}
	if err := os.Rename(path+".part", path); err != nil {
		return err
	}
	fmt.Fprintln(c.out, path)
	return nil
}

// annualJob is what all copies are made from.
type annualJob struct {
	o       *opened
	x       *gazette.Index
	period  annual.Period
	options parcel.Options
	bill    tally.Bill
	to      func(name string, write func(io.Writer) error) error
}

func (a annualCommand) job(ctx context.Context, o *opened) (*annualJob, error) {
	about, err := postgres.NewProgram(o.public).About(ctx)
	if err != nil {
		return nil, err
	}
	x, err := a.edition(ctx, o)
	if err != nil {
		return nil, err
	}
	j := &annualJob{o: o, x: x, options: parcel.Options{Lang: catalog.English(), AsOf: today(), Land: postgres.NewLand(o.public),
		Program: parcel.Program{Name: about.Name, State: about.State, Invented: about.Invented}}}
	j.period, err = a.period(ctx, o, x)
	return j, err
}

// edition loads the edition asked for.
func (a annualCommand) edition(ctx context.Context, o *opened) (*gazette.Index, error) {
	published := postgres.NewPublished(o.public)
	no, err := published.Latest(ctx)
	if err != nil {
		return nil, err
	}
	if no == 0 {
		return nil, errors.New("no edition has been released yet: the summary is made from one")
	}
	issue, err := published.Issue(ctx, no)
	if err != nil {
		return nil, err
	}
	if code := strings.ToUpper(a.Map); code != "" && code != issue.Edition.Code {
		no = 0
		for _, e := range issue.Editions {
			if e.Code == code {
				no = e.Number
			}
		}
		if no == 0 {
			return nil, errNoSuchMap
		}
		if issue, err = published.Issue(ctx, no); err != nil {
			return nil, err
		}
	}
	return gazette.NewIndex(issue)
}

func (a annualCommand) period(ctx context.Context, o *opened, x *gazette.Index) (annual.Period, error) {
	if a.Fiscal != 0 {
		if a.Begins < 0 || a.Begins > 12 || a.Fiscal < 1950 || a.Fiscal > 2200 {
			return annual.Period{}, errors.New("a fiscal year is a year such as 2027, and begins in a month from 1 to 12")
		}
		calendar, err := money.Calendar{First: time.Month(a.Begins)}, error(nil)
		if a.Begins == 0 {
			calendar, err = postgres.NewMoney(o.staff).Calendar(ctx)
		}
		return annual.FiscalYear(calendar, money.Year(a.Fiscal)), err
	}
	year := a.Season
	if year == 0 {
		year = x.Issue.Edition.Season
	}
	p, err := postgres.NewAnnual(o.public).Season(ctx, year)
	if errors.Is(err, fault.ErrNotFound) {
		return p, fmt.Errorf("there is no season %d", year)
	}
	return p, err
}

func (j *annualJob) public(ctx context.Context) error {
	b, err := annual.ForPublic(j.options.Lang, j.x, j.period)
	if err != nil {
		return err
	}
	return j.to(parcel.FileName(b), func(w io.Writer) error { return parcel.Write(ctx, w, b, j.options) })
}

func (j *annualJob) sponsor(ctx context.Context) error {
	b, err := annual.ForPublic(j.options.Lang, j.x, j.period)
	if err != nil {
		return err
	}
	f, err := postgres.NewAnnual(j.o.staff).Figures(ctx, j.period, j.options.AsOf, j.x.Issue.Scheme)
	if err != nil {
		return err
	}
	s := annual.ForSponsor(b, annual.SponsorSheet(j.options.Lang, b, f.ForSponsor(j.x, j.period), j.bill.Fee))
	return j.to(parcel.FileName(s), func(w io.Writer) error { return parcel.Write(ctx, w, s, j.options) })
}

func (j *annualJob) office(ctx context.Context) error {
	b, err := annual.ForPublic(j.options.Lang, j.x, j.period)
	if err != nil {
		return err
	}
	f, err := postgres.NewAnnual(j.o.staff).Figures(ctx, j.period, j.options.AsOf, j.x.Issue.Scheme)
	if err != nil {
		return err
	}
	f.Bill = j.bill
	whole := annual.ForOffice(b, f.Sheets(j.options.Lang, j.x)...)
	return j.to(parcel.FileName(whole), func(w io.Writer) error { return parcel.Write(ctx, w, whole, j.options) })
}

// annualCopy makes a copy of the newest edition's own season in memory.
func annualCopy(ctx context.Context, o *opened, make func(*annualJob, context.Context) error) ([]byte, error) {
	j, err := annualCommand{}.job(ctx, o)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	j.to = func(_ string, write func(io.Writer) error) error { return write(&b) }
	err = make(j, ctx)
	return b.Bytes(), err
}
