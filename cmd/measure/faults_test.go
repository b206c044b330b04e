package main

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The short form of the fault suite. The long one is a measurement:
// go run ./cmd/measure --only faults.
func TestFaults(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	var rows []row
	var log strings.Builder
	err := faults(ctx, shortDoses, func(r row) { rows = append(rows, r) }, &log)
	noMount := errors.Is(err, errNoMount)
	if noMount {
		require.Len(t, rows, 8, log.String())
	} else {
		require.NoError(t, err, log.String())
		require.Len(t, rows, 10)
	}
	for _, r := range rows {
		require.True(t, r.Met, "%s: %v %s\n%s", r.Name, r.Ours, r.Unit, log.String())
	}
	t.Log("\n" + log.String())
	if noMount {
		t.Skip("NOT CHECKED: a full disk:", err)
	}
}
