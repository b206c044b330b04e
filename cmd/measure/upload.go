package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/bag"
	"sixmile/internal/cluster"
	"sixmile/internal/desk"
	"sixmile/internal/postgres"
	"sixmile/internal/postgres/yardstick"
	"sixmile/internal/tabular"
)

// uploaded is how many counts the file has.
const uploaded = 100_000

// measureUpload takes a file of counts in, every row judged, against COPY of the
// rows that it stored.
func measureUpload(ctx context.Context, put func(row), log io.Writer) (err error) {
	if _, err := cluster.Ensure(ctx, log); err != nil {
		return err
	}
	c, err := cluster.Open(ctx, cluster.Options{Throwaway: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Stop()) }()
	logins, err := releaseBase(ctx, c, "upload", 1000)
	if err != nil {
		return err
	}
	codes, file, err := countsFile()
	if err != nil {
		return err
	}
	if err := yardstick.Bags(ctx, logins, codes, 1, true); err != nil {
		return err
	}
	staff, err := postgres.Open(ctx, logins.Staff)
	if err != nil {
		return err
	}
	defer staff.Close()
	start := time.Now()
	if err := takeFile(ctx, postgres.NewUploads(staff), file); err != nil {
		return err
	}
	ours := time.Since(start).Seconds()
	var began time.Time
	var bare float64
	if err := yardstick.CopyResults(ctx, logins, func() { began = time.Now() }, func() { bare = time.Since(began).Seconds() }); err != nil {
		return err
	}
	put(within("upload of 100,000 counts, every row judged", "s", ours, 20))
	put(atLeast("the same, against COPY of its rows", "rows/s", uploaded/ours, uploaded/bare, 0.25))
	return nil
}

func countsFile() (codes []string, file []byte, err error) {
	var b bytes.Buffer
	b.WriteString("Bag code,Date counted,Eggs 1,mL 1,Eggs 2,mL 2,Eggs 3,mL 3,Cyst seen\r\n")
	for i := range uploaded {
		c, err := bag.Draw(rand.Reader)
		if err != nil {
			return nil, nil, err
		}
		codes = append(codes, string(c))
		fmt.Fprintf(&b, "%s,2026-11-20,%d,2,%d,2.5,%d,2,no\r\n", c, i%90, i%80, i%70)
	}
	return codes, b.Bytes(), nil
}

// takeFile reads, looks up and stores, as the office's page does.
func takeFile(ctx context.Context, store *postgres.Uploads, file []byte) error {
	sheet, err := tabular.Open(file, nil)
	if err != nil {
		return err
	}
	var d tabular.Digest
	var list []desk.Keyed
	day := time.Date(2026, time.November, 20, 0, 0, 0, 0, time.UTC)
	with := tabular.Setup{Method: assay.DefaultMethod(), Methods: assay.PresetMethods(), Day: day, Latest: day}
	if err := sheet.Each(ctx, sheet.Guess(), with, func(r tabular.Row) error {
		if !r.OK() {
			return fmt.Errorf("row %d was refused", r.Line)
		}
		d.Add(r.Entry)
		list = append(list, desk.Keyed{Code: r.Entry.Code, Method: r.Entry.Method, Count: r.Entry.Count, Report: r.Entry.Report, Day: r.Entry.Day})
		return nil
	}); err != nil {
		return err
	}
	all := make([]bag.Code, len(list))
	for i, k := range list {
		all[i] = k.Code
	}
	targets, err := store.Targets(ctx, all)
	if err != nil {
		return err
	}
	if len(targets) != uploaded {
		return fmt.Errorf("%d of %d bags were found", len(targets), uploaded)
	}
	n, err := store.Accept(ctx, d.Sum(), list, account.ID{}, day)
	if err == nil && n != uploaded {
		err = fmt.Errorf("%d of %d counts were stored", n, uploaded)
	}
	return err
}
