package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"sixmile/internal/postgres"
)

type restoreCommand struct {
	database
	File string `arg:"" optional:"" help:"The backup. Without one nothing is put back but what the witness remembers and the database does not." type:"existingfile"`
	Over bool   `help:"The database holds a program: keep a backup of it beside FILE first, then put FILE in its place."`
}

// Run puts a backup back, forgets what was to be forgotten since, brings back what
// was public since, and looks it all over before anything may be served.
func (r restoreCommand) Run(ctx context.Context, c console) (err error) {
	o, err := r.login(ctx, "sixmile", c.err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	var said postgres.Backup
	if r.File != "" {
		if said, err = r.putBack(ctx, c, o); err != nil {
			return err
		}
	}
	if err := o.connect(ctx); err != nil {
		return err
	}
	if r.File == "" {
		if err := postgres.SetMark(ctx, o.logins.Admin, postgres.NotLookedOver); err != nil {
			return err
		}
	}
	forgot, _, err := postgres.Unlink(ctx, o.logins.Admin, today(), false)
	if err != nil {
		return err
	}
	w, witnessed, err := r.ask(o.witness, said)
	if err != nil {
		return err
	}
	back, err := w.Return(ctx, o.logins.Admin)
	if err != nil {
		return err
	}
	if err := lookOver(ctx, c, o, said.Editions, back.Editions); err != nil {
		return err
	}
	if err := postgres.LookedOver(ctx, o.logins.Admin); err != nil {
		return err
	}
	if r.File != "" {
		fmt.Fprintf(c.out, "Restored %s.\n", contents(said))
	}
	tellReturn(c.out, back, forgot.Samples, r.File != "", witnessed)
	return o.keepWitness(ctx)
}

// putBack makes room where it was asked to, and restores.
func (r restoreCommand) putBack(ctx context.Context, c console, o *opened) (b postgres.Backup, err error) {
	file, size, err := openBackup(r.File)
	if err != nil {
		return b, err
	}
	defer file.Close()
	if _, err := postgres.ReadBackup(file, size); err != nil {
		return b, err
	}
	occupied, err := postgres.Occupied(ctx, o.logins.Admin)
	if err != nil {
		return b, err
	}
	mark, err := postgres.Mark(ctx, o.logins.Admin)
	if err != nil {
		return b, err
	}
	switch {
	case occupied && mark == postgres.NotLookedOver:
	case occupied && !r.Over:
		return b, fmt.Errorf("%w: give another folder by --data, or --over to put the backup in its place", postgres.ErrOccupied)
	case occupied:
		if err := r.keepOld(ctx, c, o); err != nil {
			return b, err
		}
	}
	return postgres.Restore(ctx, o.logins.Admin, file, size)
}

// keepOld keeps what is there in a file, and what it made public in the witness.
func (r restoreCommand) keepOld(ctx context.Context, c console, o *opened) error {
	if err := o.connect(ctx); err != nil {
		return err
	}
	if err := o.keepWitness(ctx); err != nil {
		return err
	}
	name := r.File + ".before-restore"
	if _, _, err := writeBackup(ctx, o.logins.Admin, name); err != nil {
		return fmt.Errorf("what is there could not be kept, so it was left alone: %w", err)
	}
	fmt.Fprintf(c.out, "What was there is kept in %s.\n", name)
	o.disconnect()
	return postgres.Discard(ctx, o.logins.Admin)
}

// ask reads the witness. Witnessed is false where there was none to ask: no file, or
// one that knows less than the backup, as that of a folder just made does.
func (r restoreCommand) ask(name string, said postgres.Backup) (w postgres.Witness, witnessed bool, err error) {
	if w, err = readWitness(name); err != nil || name == "" {
		return w, false, err
	}
	if _, err := os.Stat(name); err != nil {
		return w, false, nil
	}
	return w, len(w.Editions) >= len(said.Editions), nil
}

// tellReturn says what is as it was, and what a person has to see to.
func tellReturn(w io.Writer, back postgres.Returned, forgot int, whole, witnessed bool) {
	fmt.Fprintf(w, "Since the backup: %s, %s and %s brought back; %s unlinked again.\n",
		many(len(back.Editions), "edition"), many(back.Recalls, "recall"), many(back.Withdrawals, "withdrawal"), many(forgot, "sample"))
	if back.Gone > 0 {
		fmt.Fprintf(w, "%d of the %d results in those editions are lost: their groups stay public as they were and cannot be counted again; "+
			"edition verify will say so.\n", back.Gone, back.Samples)
	}
	if !witnessed {
		fmt.Fprintln(w, "There was no witness to ask (--witness): if a map was released or taken back after the backup, release nothing until that is put right by hand.")
	}
	if whole {
		fmt.Fprintln(w, "Everybody has to sign in again. See to by hand what the office did after the backup: accounts closed and passwords changed, "+
			"bundles tied at the counter (before the next release), bags issued, boundaries accepted.")
	}
}
