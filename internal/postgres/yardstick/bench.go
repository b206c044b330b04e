package yardstick

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strconv"

	"github.com/jackc/pgx/v5"

	"sixmile/internal/postgres"
)

var rateOf = regexp.MustCompile(`tps = ([0-9.]+)`)

// Bench has pgbench run a script by so many clients, each so often, and says how
// many transactions a second there were.
func Bench(ctx context.Context, log io.Writer, logins postgres.Logins, script string, clients, each int) (rate float64, err error) {
	file, err := os.CreateTemp("", "yardstick*.sql")
	if err != nil {
		return 0, err
	}
	defer os.Remove(file.Name()) //nolint:errcheck // a temporary file
	_, err = file.WriteString(script)
	if err = errors.Join(err, file.Close()); err != nil {
		return 0, err
	}
	cfg, err := pgx.ParseConfig(logins.Admin)
	if err != nil {
		return 0, err
	}
	cmd := exec.CommandContext(ctx, "pgbench", "-n", "-h", cfg.Host, "-p", strconv.Itoa(int(cfg.Port)), "-U", cfg.User, "-M", "prepared",
		"-c", strconv.Itoa(clients), "-j", "2", "-t", strconv.Itoa(each), "-f", file.Name(), cfg.Database)
	cmd.Env = append(os.Environ(), "PGPASSWORD="+cfg.Password)
	out, err := cmd.CombinedOutput()
	log.Write(out) //nolint:errcheck // the log is for people
	if err != nil {
		return 0, err
	}
	m := rateOf.FindSubmatch(out)
	if m == nil {
		return 0, errors.New("pgbench told no rate")
	}
	return strconv.ParseFloat(string(m[1]), 64)
}
