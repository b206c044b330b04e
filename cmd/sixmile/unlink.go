package main

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"sixmile/internal/desk"
	"sixmile/internal/postgres"
)

type unlinkCommand struct {
	demoToo
	DryRun bool `help:"Say what would be forgotten; change nothing."`
}

// Run forgets what has had its time.
func (u unlinkCommand) Run(ctx context.Context, c console) error {
	return u.with(ctx, c, func(o *opened) error {
		done, ran, err := postgres.Unlink(ctx, o.logins.Admin, today(), u.DryRun)
		switch {
		case err != nil:
			return err
		case !ran:
			fmt.Fprintln(c.out, "Another run is under way.")
			return nil
		}
		verb := "Forgot"
		if u.DryRun {
			verb = "Would forget"
		}
		fmt.Fprintf(c.out, "%s the bag and sender of %d samples, %d answer links, the sender of %d bundles and %d visits; %d unused codes expire. Seasons closed long enough ago: %s.\n",
			verb, done.Samples, done.Keys, done.Bundles, done.Visits, done.Codes, seasonList(done))
		return nil
	})
}

func seasonList(u desk.Unlinked) string {
	if len(u.Seasons) == 0 {
		return "none"
	}
	out := ""
	for i, y := range u.Seasons {
		if i > 0 {
			out += ", "
		}
		out += fmt.Sprint(y)
	}
	return out
}

// lookEvery is how often a server asks whether a new day has begun.
const lookEvery = time.Hour

// unlinkDaily unlinks once a day while the server runs. Several servers on one
// database do not get in each other's way. What is forgotten cannot be had back, so
// it waits for a person where the machine's clock is not to be believed.
func unlinkDaily(ctx context.Context, adminDSN string, log *slog.Logger) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	var last time.Time
	began := time.Now()
	for {
		switch now := today(); {
		case !now.After(last):
		case clockJumped(time.Now().Round(0).Sub(began.Round(0)), time.Since(began)):
			log.Error("the clock jumped by more than a day: nothing is unlinked until the server is started again")
		case dormant(ctx, adminDSN, now, log):
		default:
			done, ran, err := postgres.Unlink(ctx, adminDSN, now, false)
			switch {
			case ctx.Err() != nil:
				return
			case err != nil:
				log.Error("unlinking failed; the next try is within the hour", "error", err)
			case ran && done.Samples+done.Keys+done.Bundles+done.Codes+done.Visits > 0:
				log.Info("unlinked", "samples", done.Samples)
				last = now
			default:
				last = now
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// clockJumped tells whether the calendar went a day further, or less far, than the
// time that passed.
func clockJumped(calendar, passed time.Duration) bool {
	return (calendar - passed).Abs() > 24*time.Hour
}

// dormantFor is longer than a program does nothing from one fall to the next.
const dormantFor = 400 * 24 * time.Hour

// dormant tells that nothing was done in the program for so long that the clock is
// the likelier one to be wrong. The command unlinks all the same.
func dormant(ctx context.Context, adminDSN string, now time.Time, log *slog.Logger) bool {
	newest, err := postgres.NewestDeed(ctx, adminDSN)
	if err != nil || newest.IsZero() {
		return false // the unlinking itself will say
	}
	gap := now.Sub(newest)
	if gap <= dormantFor && gap >= -48*time.Hour {
		return false
	}
	log.Error("nothing was done here for more than a year, or the clock is wrong: to unlink all the same run sixmile unlink",
		"newest", newest.Format(time.DateOnly), "today", now.Format(time.DateOnly))
	return true
}
