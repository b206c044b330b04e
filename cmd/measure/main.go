// Command measure states what the program costs against a yardstick that does
// the same work with nothing around it, a row a measurement. It starts a private
// cluster that it throws away. It measures and does not judge: whether an aim is
// met is in the row, and the exit code is 0 all the same.
package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"text/tabwriter"
)

// measure is a set of rows under one name.
type measure struct {
	name string
	run  func(ctx context.Context, put func(row), log io.Writer) error
}

func measures() []measure {
	return []measure{
		{"paint", measurePaint},
		{"served", measureServed},
		{"pages", measurePages},
		{"forms", measurePosts},
		{"compose", measureCompose},
		{"national", measureNational},
		{"instances", measureInstances},
		{"upload", measureUpload},
		{"release", measureRelease},
		{"look-ahead", measureLookAhead},
		{"annual", measureAnnual},
		{"plan", measurePlan},
		{"edge", measureEdge},
		{"faults", measureFaults},
		{"history", measureHistory},
		{"place", measurePlace},
		{"boundaries", measureBoundaries},
	}
}

func main() {
	only := flag.String("only", "", "measure these alone, separated by commas: "+names())
	asJSON := flag.Bool("json", false, "print one JSON object a row")
	bare := flag.String("bare", "", "serve the answers in this file and nothing else, as the measure of pages has it done")
	flag.Parse()
	if *bare != "" {
		fmt.Fprintln(os.Stderr, "measure:", serveBare(*bare, os.Stdout))
		os.Exit(1)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, *only, *asJSON, os.Stdout, os.Stderr)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

func names() string {
	var out []string
	for _, m := range measures() {
		out = append(out, m.name)
	}
	return strings.Join(out, ", ")
}

func run(ctx context.Context, only string, asJSON bool, out, log io.Writer) error {
	wanted := make(map[string]bool)
	for _, name := range strings.FieldsFunc(only, func(r rune) bool { return r == ',' }) {
		wanted[name] = true
	}
	table := tabwriter.NewWriter(out, 0, 4, 2, ' ', tabwriter.AlignRight)
	put := func(r row) {
		if asJSON {
			json.NewEncoder(out).Encode(r) //nolint:errcheck // to standard output, of plain numbers
			return
		}
		fmt.Fprintf(table, "%s\t%.3g\t%.3g\t%s\t%.2f\t%s %.2f\t%v\t\n", r.Name, r.Ours, r.Limit, r.Unit, r.Ratio, r.sign(), r.Aim, r.Met)
	}
	if !asJSON {
		fmt.Fprintln(table, "name\tours\tlimit\tunit\tratio\taim\tmet\t")
	}
	for _, m := range measures() {
		if len(wanted) > 0 && !wanted[m.name] || len(wanted) == 0 && m.name == "faults" { // that one mounts and kills: when asked for
			continue
		}
		delete(wanted, m.name)
		if err := m.run(ctx, put, log); err != nil {
			table.Flush() //nolint:errcheck // what was measured before; the error is told
			return fmt.Errorf("%s: %w", m.name, err)
		}
		if len(wanted) == 0 && only != "" {
			break
		}
	}
	for name := range wanted {
		return fmt.Errorf("there is no measurement %q; there are %s", name, names())
	}
	if asJSON {
		return nil
	}
	return table.Flush()
}
