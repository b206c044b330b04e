// Command sixmile runs the program: the demo, an office's server, and the
// chores of setting one up. Every command says what it did.
//
// Exit codes: 0 done; 1 it failed; 2 the command line was wrong; 3 something
// has to be installed first, and the line to run is printed.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strconv"
	"syscall"
	_ "time/tzdata" // a container has no list of time zones of its own

	"github.com/alecthomas/kong"

	"sixmile/internal/cluster"
)

// commands is the whole command line.
type commands struct {
	Demo       demoCommand       `cmd:"" help:"Build an invented state and serve it, to try everything out."`
	Serve      serveCommand      `cmd:"" help:"Serve an office's program."`
	Found      foundCommand      `cmd:"" help:"Name the program and give it the default rules, levels and methods; once more, to change its names."`
	Levels     levelsCommand     `cmd:"" help:"Level tables: what there are, one of your own, which one the first map is by."`
	Boundaries boundariesCommand `cmd:"" help:"Counties and townships."`
	Season     seasonCommand     `cmd:"" help:"Open a season, or change its days."`
	Office     officeCommand     `cmd:"" help:"Say where a county hands out bags and takes them back."`
	Bags       bagsCommand       `cmd:"" help:"Issue bags and print their sheets."`
	Staff      staffCommand      `cmd:"" help:"Give a person a way into the office, or a new one where it was lost."`
	Mail       mailCommand       `cmd:"" help:"Try the mail server that sends links to a new password."`
	Edition    editionCommand    `cmd:"" help:"Look editions up, work them out again, take figures back, put another level table in force."`
	History    historyCommand    `cmd:"" help:"Results of years before the program."`
	Unlink     unlinkCommand     `cmd:"" help:"Forget bags and senders of seasons that closed long enough ago; a server does it daily."`
	Annual     annualCommand     `cmd:"" help:"Write the annual summary: workbook, tables, maps and a report in one archive."`
	Maps       mapsCommand       `cmd:"" help:"Write maps, poster, handout, slides and sheets into a folder: the files that the pages offer."`
	Audit      auditCommand      `cmd:"" help:"Try to find out from what is public what nobody should; exit code 1 if anything is found."`
	Backup     backupCommand     `cmd:"" help:"Write a backup, or look one over."`
	Restore    restoreCommand    `cmd:"" help:"Put a backup back; nothing is served before it is looked over."`
	Licenses   licensesCommand   `cmd:"" help:"List the libraries in the program and their licenses."`
	Health     healthCommand     `cmd:"" help:"Ask a running server whether it is ready."`
}

// console is where commands write: what they did to out, how it goes to err.
type console struct {
	out, err io.Writer
	in       io.Reader
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], console{os.Stdout, os.Stderr, os.Stdin})
	stop()
	os.Exit(code)
}

// run is the program without the process around it.
func run(ctx context.Context, args []string, c console) int {
	var cmds commands
	exit := -1
	parser, err := kong.New(&cmds,
		kong.Name("sixmile"),
		kong.Description("Soybean cyst nematode by township: bags, counts, and county maps that tell nobody's field."),
		kong.UsageOnError(),
		mapVars(),
		kong.Vars{"most_nights": strconv.Itoa(mostNights), "schemes": schemeKeys(), "levels": levelKeys()},
		kong.Writers(c.out, c.err),
		kong.Exit(func(code int) { exit = code }),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(c),
	)
	if err != nil {
		fmt.Fprintln(c.err, "sixmile:", err)
		return 1
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if exit >= 0 { // --help
		return exit
	}
	if err != nil {
		fmt.Fprintln(c.err, "sixmile:", err)
		return 2
	}
	err = k.Run()
	var missing *cluster.MissingError
	switch {
	case err == nil:
		return 0
	case errors.As(err, &missing):
		fmt.Fprintf(c.err, "sixmile: %v\nRun this line as an administrator, then try again:\n\n    %s\n\n", err, missing.Line)
		return 3
	case errors.Is(err, context.Canceled) && ctx.Err() != nil:
		fmt.Fprintln(c.err, "sixmile: stopped")
		return 1
	}
	fmt.Fprintln(c.err, "sixmile:", err)
	return 1
}
