package main

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/geofile"
)

// The short form: the files that are measured are read as what they are. The long
// one is a measurement: go run ./cmd/measure --only boundaries.
func TestLatticeFiles(t *testing.T) {
	counties, townships, err := latticeFiles(3, 2, 6, 5)
	require.NoError(t, err)
	set, err := readSet(counties, townships, geofile.Fields{Code: "code"}, geofile.Fields{Code: "code", County: "county"})
	require.NoError(t, err)
	require.Len(t, set.Counties, 6)
	require.Len(t, set.Townships, 6*30)
	in := map[string]int{}
	for _, tw := range set.Townships {
		in[tw.County]++
	}
	require.Len(t, in, 6)
	for county, n := range in {
		require.Equal(t, 30, n, county)
	}
}
