package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"sixmile/internal/postgres"
)

// witnessFile is where a private database's witness is unless it is said otherwise:
// beside the data, so that it stays where the data is put back to an earlier day.
func (d database) witnessFile() string {
	if d.Witness == "" && d.Data != "" {
		return filepath.Join(d.Data, "witness.jsonl")
	}
	return d.Witness
}

// witnessWithin bounds how long one process keeps others from the witness.
const witnessWithin = 30 * time.Second

// readWitness reads a witness; one that is not there remembers nothing.
func readWitness(name string) (postgres.Witness, error) {
	if name == "" {
		return postgres.ReadWitness(bytes.NewReader(nil))
	}
	file, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return postgres.ReadWitness(bytes.NewReader(nil))
	}
	if err != nil {
		return postgres.Witness{}, err
	}
	defer file.Close()
	w, err := postgres.ReadWitness(file)
	if err != nil {
		return w, fmt.Errorf("%s: %w", name, err)
	}
	return w, nil
}

// checkWitness refuses a database that lacks what was public.
func (o *opened) checkWitness(ctx context.Context) error {
	w, err := readWitness(o.witness)
	if err != nil {
		return err
	}
	lost, err := w.Compare(ctx, o.staff)
	if err != nil {
		return err
	}
	if lost.Any() {
		return fmt.Errorf("this database has lost what was public: %s, %s, %s that %s remembers; run sixmile restore without a file to bring them back",
			many(len(lost.Editions), "edition"), many(lost.Recalls, "recall"), many(lost.Withdrawals, "withdrawal"), o.witness)
	}
	return nil
}

// keepWitness writes down what is public and not in the witness yet.
func (o *opened) keepWitness(ctx context.Context) (err error) {
	if o.witness == "" {
		return nil
	}
	file, err := os.OpenFile(o.witness, os.O_RDWR|os.O_CREATE|noFollow, 0o600)
	if err != nil {
		return fmt.Errorf("the witness: %w", err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	ctx, cancel := context.WithTimeout(ctx, witnessWithin)
	defer cancel()
	if err := likeFolder(file); err != nil {
		return err
	}
	// One writer at a time; the lock goes with the file.
	if err := lockWhole(file); err != nil {
		return err
	}
	w, err := postgres.ReadWitness(file)
	if err != nil {
		return fmt.Errorf("%s: %w", o.witness, err)
	}
	lines, err := w.Missing(ctx, o.staff)
	if err != nil || len(lines) == 0 {
		return err
	}
	if err := cutTail(file); err != nil {
		return err
	}
	for _, l := range lines {
		if _, err := file.Write(append(l, '\n')); err != nil {
			return err
		}
	}
	return file.Sync()
}

// cutTail goes to the end of the last whole line and cuts off what follows: a line
// that a power cut tore.
func cutTail(file *os.File) error {
	all, err := file.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	end := all
	for b := make([]byte, 1); end > 0; end-- {
		if _, err := file.ReadAt(b, end-1); err != nil {
			return err
		}
		if b[0] == '\n' {
			break
		}
	}
	if end < all {
		if err := file.Truncate(end); err != nil {
			return err
		}
	}
	_, err = file.Seek(end, io.SeekStart)
	return err
}

// watchEvery is how long a release can be public before the witness has it.
const watchEvery = time.Second

// watchPublic keeps the witness while a server runs.
func (o *opened) watchPublic(ctx context.Context, log *slog.Logger) {
	if o.witness == "" {
		return
	}
	var last postgres.Public
	tick := time.NewTicker(watchEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		now, err := postgres.CountPublic(ctx, o.staff)
		if err != nil || now == last {
			continue // the pages' own log says when the database is away
		}
		if err := o.keepWitness(ctx); err != nil {
			log.Error("the witness could not be written; a restore would not know of the newest maps", "error", err)
			continue
		}
		last = now
	}
}
