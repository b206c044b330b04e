package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/assay"
	"sixmile/internal/desk"
	"sixmile/internal/edition"
	"sixmile/internal/fault"
	"sixmile/internal/postgres"
)

type editionCommand struct {
	List     editionListCommand  `cmd:"" help:"List all editions."`
	Find     editionFindCommand  `cmd:"" help:"Find an edition by the code printed on its maps."`
	Text     editionTextCommand  `cmd:"" help:"Write an edition's canonical text, of which the digest is taken."`
	Files    editionFilesCommand `cmd:"" help:"List an edition's files with their hashes, for edition verify --files."`
	Verify   verifyCommand       `cmd:"" help:"Count editions again from the results pinned at their release; exit code 1 if anything differs."`
	Recall   recallCommand       `cmd:"" help:"Take a group of results back at once, whole."`
	Erratum  erratumCommand      `cmd:"" help:"Bring recalled groups out again at once, where results of enough senders were put right."`
	Withdraw withdrawCommand     `cmd:"" help:"Take an edition back with all that it counted."`
	Restate  restateCommand      `cmd:"" help:"Put another level table in force and count old groups by it, as far as the rules let them."`
}

type editionListCommand struct{ demoToo }

// Run prints a line an edition.
func (e editionListCommand) Run(ctx context.Context, c console) error {
	return e.with(ctx, c, func(o *opened) error {
		all, err := postgres.NewEditions(o.staff).List(ctx)
		if err != nil {
			return err
		}
		for _, l := range all {
			note := ""
			if l.Recalled > 0 {
				note = fmt.Sprintf("  %s taken back", many(l.Recalled, "group"))
			}
			if l.Withdrawn {
				note = "  withdrawn"
			}
			fmt.Fprintf(c.out, "%4d  %s  %-8s  %s  fall %d  %s%s\n", l.Number, l.Code, l.Kind, l.Released.Format(time.DateOnly), l.Season, l.Scheme, note)
		}
		if len(all) == 0 {
			fmt.Fprintln(c.out, "No edition has been released yet.")
		}
		return nil
	})
}

type editionFindCommand struct {
	demoToo
	Code string `arg:"" help:"The code, such as K7QF-2M; small letters and a missing hyphen will do."`
}

// Run prints the number.
func (e editionFindCommand) Run(ctx context.Context, c console) error {
	return e.with(ctx, c, func(o *opened) error {
		no, err := postgres.NewEditions(o.staff).Find(ctx, e.Code)
		if errors.Is(err, fault.ErrNotFound) {
			return fmt.Errorf("no edition has the code %q", e.Code)
		}
		if err == nil {
			fmt.Fprintln(c.out, no)
		}
		return err
	})
}

type editionTextCommand struct {
	demoToo
	Number int `arg:"" help:"The edition's number."`
}

// Run writes the text.
func (e editionTextCommand) Run(ctx context.Context, c console) error {
	return e.with(ctx, c, func(o *opened) error {
		text, err := postgres.NewEditions(o.staff).Text(ctx, e.Number)
		if errors.Is(err, fault.ErrNotFound) {
			return fmt.Errorf("there is no edition %d", e.Number)
		}
		if err == nil {
			_, err = c.out.Write(text)
		}
		return err
	})
}

type verifyCommand struct {
	demoToo
	Number int    `arg:"" optional:"" help:"The edition's number."`
	All    bool   `help:"All editions."`
	Files  string `help:"Compare the edition's files too, with a list that edition files made." type:"existingfile" placeholder:"LIST"`
}

// errDiffers makes the exit code 1.
var errDiffers = errors.New("an edition is not what was released: restore it from a backup and find out what changed it")

// Run counts again.
func (v verifyCommand) Run(ctx context.Context, c console) error {
	if v.All == (v.Number != 0) {
		return errors.New("give an edition's number, or --all")
	}
	if v.All && v.Files != "" {
		return errors.New("a list is of one edition: give its number")
	}
	return v.with(ctx, c, func(o *opened) error {
		store := postgres.NewEditions(o.staff)
		numbers := []int{v.Number}
		if v.All {
			all, err := store.List(ctx)
			if err != nil {
				return err
			}
			numbers = nil
			for _, l := range all {
				numbers = append(numbers, l.Number)
			}
		}
		good := true
		for _, no := range numbers {
			p, err := store.Verify(ctx, no)
			if errors.Is(err, fault.ErrNotFound) {
				return fmt.Errorf("there is no edition %d", no)
			}
			if err != nil {
				return err
			}
			verdict := "as released"
			if !p.OK() {
				verdict, good = "DIFFERS: "+strings.Join(p.Wrong, ", "), false
			}
			fmt.Fprintf(c.out, "edition %d  %s  %x  %s  %s\n", no, p.Code, p.Rebuilt[:8], many(p.Results, "result"), verdict)
		}
		if !good {
			return errDiffers
		}
		if v.Files == "" {
			return nil
		}
		list, err := os.ReadFile(v.Files)
		if err != nil {
			return err
		}
		f, err := newEditionFiles(ctx, o, c, v.Number)
		if err != nil {
			return err
		}
		return f.compare(ctx, c.out, list)
	})
}

// reason is why something is taken back.
type reason struct {
	Reason string `help:"Why: ${enum}." enum:"counting,places,grouping,boundaries,other" required:""`
}

type recallCommand struct {
	demoToo
	reason
	Group string `arg:"" help:"The group, as EDITION/NUMBER: the number of its line in the edition's text, such as 12/5."`
}

// Run takes the group back.
func (r recallCommand) Run(ctx context.Context, c console) error {
	no, id, ok := strings.Cut(r.Group, "/")
	of := edition.Ref{}
	var errs [2]error
	of.Edition, errs[0] = strconv.Atoi(no)
	of.ID, errs[1] = strconv.Atoi(id)
	if !ok || errs[0] != nil || errs[1] != nil {
		return errors.New("write the group as 12/5: edition 12, group 5")
	}
	return r.with(ctx, c, func(o *opened) error {
		err := postgres.NewRecalls(o.staff).Recall(ctx, of, desk.RecallReason(r.Reason), today(), account.ID{})
		switch {
		case errors.Is(err, fault.ErrNotFound):
			return fmt.Errorf("there is no group %s", r.Group)
		case errors.Is(err, fault.ErrConflict):
			return fmt.Errorf("group %s does not stand: it is taken back already, or came out again in another", r.Group)
		case err != nil:
			return err
		}
		fmt.Fprintf(c.out, "Group %s is taken back: the maps show it no more, older ones included.\n", r.Group)
		fmt.Fprintln(c.out, "Put right what was wrong and have it signed. It comes out again with new results of enough senders, or by an erratum.")
		return nil
	})
}

type withdrawCommand struct {
	demoToo
	reason
	Number int `arg:"" help:"The edition's number."`
}

// Run withdraws the edition.
func (w withdrawCommand) Run(ctx context.Context, c console) error {
	return w.with(ctx, c, func(o *opened) error {
		err := postgres.NewRecalls(o.staff).Withdraw(ctx, w.Number, desk.RecallReason(w.Reason), today())
		switch {
		case errors.Is(err, fault.ErrNotFound):
			return fmt.Errorf("there is no edition %d", w.Number)
		case errors.Is(err, fault.ErrConflict):
			return fmt.Errorf("edition %d is withdrawn already", w.Number)
		case err != nil:
			return err
		}
		fmt.Fprintf(c.out, "Edition %d is withdrawn. No result of it is free: what it counted comes out again as recalled groups do.\n", w.Number)
		return nil
	})
}

type erratumCommand struct {
	demoToo
	Release bool `help:"Release it; without this it is only shown, and nothing changes."`
}

// Run shows or releases the erratum.
func (e erratumCommand) Run(ctx context.Context, c console) error {
	return e.with(ctx, c, func(o *opened) error {
		store := postgres.NewRecalls(o.staff)
		p, err := store.Errata(ctx, today())
		if err != nil {
			return err
		}
		if len(p.Groups) == 0 {
			fmt.Fprintln(c.out, "There is no erratum: no recalled group has enough put right, and signed, for nobody to tell whose it was.")
			return nil
		}
		if err := tellAgain(c, p); err != nil || !e.Release {
			return err
		}
		out, err := store.Amend(ctx, p.Number, today(), p.Stamp, account.ID{})
		if err == nil {
			fmt.Fprintf(c.out, "Erratum %d is released: code %s.\n", out.Number, out.Code)
		}
		return err
	})
}

type restateCommand struct {
	demoToo
	Scheme  string `help:"Key of the level table: ${schemes}, or one of your own." required:""`
	Release bool   `help:"Release it; without this it is only shown, and nothing changes."`
}

// Run shows or releases the restatement.
func (r restateCommand) Run(ctx context.Context, c console) error {
	return r.with(ctx, c, func(o *opened) error {
		store := postgres.NewRestatements(o.staff)
		p, err := store.Preview(ctx, r.Scheme, today())
		if errors.Is(err, fault.ErrNotFound) {
			return fmt.Errorf("there is no level table %q, or no edition yet", r.Scheme)
		}
		if errors.Is(err, postgres.ErrInForce) {
			return fmt.Errorf("the level table %q is in force already", r.Scheme)
		}
		if err != nil {
			return err
		}
		if err := tellAgain(c, p); err != nil || !r.Release {
			return err
		}
		out, err := store.Release(ctx, r.Scheme, p.Number, today(), p.Stamp, account.ID{})
		if err == nil {
			fmt.Fprintf(c.out, "Edition %d is released: code %s. New results are sorted by this table from now on.\n", out.Number, out.Code)
		}
		return err
	})
}

// schemeKeys lists the level tables that a program starts with.
func schemeKeys() string {
	var keys []string
	for _, s := range assay.Presets() {
		keys = append(keys, s.Key)
	}
	return strings.Join(keys, ", ")
}

// tellAgain says what an edition without new results would show.
func tellAgain(c console, p desk.Again) error {
	fmt.Fprintf(c.out, "Edition %d, by %q: %s counted again", p.Number, p.Level, many(len(p.Groups), "group"))
	if p.Coarse > 0 {
		fmt.Fprintf(c.out, "; %d would show none, unconfirmed and found only, because their cut points would come too close", p.Coarse)
	}
	fmt.Fprintln(c.out, ".")
	for _, f := range p.Audit {
		fmt.Fprintf(c.out, "  ! %s\n", f)
	}
	if len(p.Audit) > 0 {
		return errFindings
	}
	return nil
}
