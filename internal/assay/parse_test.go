package assay_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/assay"
)

func TestParseNumber(t *testing.T) {
	good := map[string]float64{
		"0": 0, "7": 7, "42": 42, " 100 ": 100, "1,250": 1250, "12,500": 12500,
		"1,234,567.5": 1234567.5, "2.5": 2.5, "0.25": 0.25, "2.50": 2.5, "0.0": 0,
		"\t12\n": 12, "\u00a012": 12, "999999999": 999999999,
	}
	for s, want := range good {
		got, err := assay.ParseNumber(s)
		require.NoError(t, err, "%q", s)
		require.Equal(t, want, got, "%q", s)
	}
	bad := map[string]assay.Problem{
		"": assay.Missing, "   ": assay.Missing,
		"-1": assay.Negative, "−2.5": assay.Negative, "- 3": assay.NotNumber, "--1": assay.NotNumber, "-": assay.NotNumber,
		"+5": assay.NotNumber, "many": assay.NotNumber, "12 eggs": assay.NotNumber, "1 250": assay.NotNumber,
		"1,25": assay.NotNumber, "1,5": assay.NotNumber, "1250,000": assay.NotNumber, ",250": assay.NotNumber,
		"1,,250": assay.NotNumber, "1,250,": assay.NotNumber, "1.250,5": assay.NotNumber, "0,250": assay.NotNumber,
		".5": assay.NotNumber, "5.": assay.NotNumber, ".": assay.NotNumber, "1.2.3": assay.NotNumber, "1.5,000": assay.NotNumber,
		"1e3": assay.NotNumber, "0x10": assay.NotNumber, "1_000": assay.NotNumber, "NaN": assay.NotNumber, "Inf": assay.NotNumber,
		"007": assay.NotNumber, "00": assay.NotNumber, "１２": assay.NotNumber, "١٢": assay.NotNumber, "=1+1": assay.NotNumber,
		"1000000000": assay.TooLarge, "1.0000001": assay.TooLarge, strings.Repeat("9", 400): assay.TooLarge,
	}
	for s, want := range bad {
		_, err := assay.ParseNumber(s)
		require.ErrorIs(t, err, want, "%q", s)
	}
}

func TestParseEggs(t *testing.T) {
	got, err := assay.ParseEggs(" 1,250 ")
	require.NoError(t, err)
	require.Equal(t, 1250, got)
	got, err = assay.ParseEggs("42.0")
	require.NoError(t, err)
	require.Equal(t, 42, got)
	for s, want := range map[string]assay.Problem{"2.5": assay.NotWhole, "-1": assay.Negative, "": assay.Missing, "x": assay.NotNumber} {
		_, err := assay.ParseEggs(s)
		require.ErrorIs(t, err, want, "%q", s)
	}
}

func TestProblemReadsAsWords(t *testing.T) {
	require.EqualError(t, assay.NotWhole, "assay: not whole")
	invalid := &assay.Invalid{Fields: map[string]assay.Problem{"soil": assay.Negative, "name": assay.Missing}}
	require.EqualError(t, invalid, "assay: invalid name: missing, soil: negative")
	require.NotErrorIs(t, invalid, assay.TooLarge)
	require.NotErrorIs(t, invalid, errors.ErrUnsupported)
}

func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"", "1,250", "2.5", " 100 ", "-4", "1e9", "0,250", "999,999,999.999999", "−", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := assay.ParseNumber(s)
		if err != nil {
			var p assay.Problem
			if !errors.As(err, &p) || v != 0 {
				t.Fatalf("%q: %v, %v", s, v, err)
			}
			return
		}
		if math.IsNaN(v) || v < 0 || v >= 1e9 {
			t.Fatalf("%q read as %v", s, v)
		}
		if strings.Trim(strings.TrimSpace(s), "0123456789.,") != "" {
			t.Fatalf("%q taken for a number", s)
		}
		if again, err := assay.ParseNumber(" " + strings.TrimSpace(s) + " "); err != nil || again != v {
			t.Fatalf("%q: space around it changes %v to %v, %v", s, v, again, err)
		}
		if plain, err := assay.ParseNumber(strings.ReplaceAll(s, ",", "")); err != nil || plain != v {
			t.Fatalf("%q: without commas %v, %v", s, plain, err)
		}
		n, err := assay.ParseEggs(s)
		if (err == nil) != (v == math.Trunc(v)) || err == nil && float64(n) != v {
			t.Fatalf("%q: %v as eggs %v, %v", s, v, n, err)
		}
	})
}
