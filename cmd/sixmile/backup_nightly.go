package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"time"

	"sixmile/internal/postgres"
)

// nightly are the flags of a server that keeps backups itself.
type nightly struct {
	Backups string `help:"Folder for a backup each night. Keep it on another disk." placeholder:"DIR" type:"path"`
	Nights  int    `help:"How many nights a backup is kept: for that long after a season is unlinked, backups still know. At most ${most_nights}." name:"backup-nights" default:"14"`
}

// mostNights bounds how long a backup can know what the server has forgotten.
const mostNights = 60

// backupHour is when a night's backup is made, by the server's clock.
const backupHour = 2

var backupName = regexp.MustCompile(`^sixmile-(\d{4}-\d{2}-\d{2})\.backup$`)

func nameOfDay(day time.Time) string { return "sixmile-" + day.Format(time.DateOnly) + ".backup" }

func (n nightly) check() error {
	if n.Nights < 1 || n.Nights > mostNights {
		return fmt.Errorf("backups are kept for 1 to %d nights, not %d", mostNights, n.Nights)
	}
	if n.Backups == "" {
		return nil
	}
	return os.MkdirAll(n.Backups, 0o700)
}

// expired are the backups among names that are too old to keep.
func expired(names []string, today time.Time, nights int) []string {
	var out []string
	for _, name := range names {
		m := backupName.FindStringSubmatch(name)
		if m == nil {
			continue // not ours
		}
		day, err := time.Parse(time.DateOnly, m[1])
		if err == nil && !day.After(today.AddDate(0, 0, -nights)) {
			out = append(out, name)
		}
	}
	return out
}

// keep makes a backup a night until ctx ends, the first one at once where there is
// none of today. Several servers on one database make one between them.
func (n nightly) keep(ctx context.Context, adminDSN string, log *slog.Logger) {
	if n.Backups == "" {
		return
	}
	began := time.Now()
	tick := time.NewTicker(10 * time.Minute)
	defer tick.Stop()
	var last time.Time
	for first := true; ; first = false {
		now := time.Now()
		due := today().After(last) && (first || now.Hour() >= backupHour)
		switch {
		case !due:
		case clockJumped(now.Round(0).Sub(began.Round(0)), now.Sub(began)):
			log.Error("the clock jumped by more than a day: no backup is made or removed until the server is started again")
		default:
			if err := n.tonight(ctx, adminDSN, today()); err == nil {
				last = today()
			} else if ctx.Err() == nil {
				log.Error("no backup could be made; the next try is in ten minutes", "error", err)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// tonight makes the day's backup where there is none, and then removes old ones.
func (n nightly) tonight(ctx context.Context, adminDSN string, day time.Time) error {
	unlock, err := postgres.Exclusive(ctx, adminDSN, "backup")
	if err != nil {
		return err
	}
	defer unlock()
	name := filepath.Join(n.Backups, nameOfDay(day))
	if _, err := os.Lstat(name); err != nil {
		if _, _, err := writeBackup(ctx, adminDSN, name); err != nil {
			return err
		}
	}
	names, err := n.names()
	if err != nil {
		return err
	}
	for _, old := range expired(names, day, n.Nights) {
		if err := os.Remove(filepath.Join(n.Backups, old)); err != nil {
			return err
		}
	}
	return nil
}

func (n nightly) names() ([]string, error) {
	entries, err := os.ReadDir(n.Backups)
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out, err
}

// age is how many days old the newest backup is; -1 where there is none.
func (n nightly) age(today time.Time) float64 {
	names, err := n.names()
	if err != nil {
		return -1
	}
	age := -1.0
	for _, name := range names {
		if m := backupName.FindStringSubmatch(name); m != nil {
			if day, err := time.Parse(time.DateOnly, m[1]); err == nil {
				if d := today.Sub(day).Hours() / 24; age < 0 || d < age {
					age = d
				}
			}
		}
	}
	return age
}
