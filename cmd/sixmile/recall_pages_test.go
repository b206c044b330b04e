package main

import (
	"bytes"
	"encoding/csv"
	"io"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"sixmile/internal/gazette"
)

// figuresOf reads what is said of a township wherever the public can: the page of
// its county in two languages, the map of the page and of paper, today's and that
// of the edition's own code, and the annual archive.
func figuresOf(t *testing.T, base string, issue *gazette.Issue, id int) func() map[string]string {
	var of gazette.Township
	var county gazette.County
	for _, c := range issue.Counties {
		for _, town := range c.Townships {
			if int(town.ID) == id {
				of, county = town, c
			}
		}
	}
	require.NotEmpty(t, county.Slug)
	title := regexp.MustCompile(regexp.QuoteMeta(of.Label()) + `: ([^<]*)<`)
	fetch := func(path string) []byte {
		res, err := http.Get(base + path)
		require.NoError(t, err)
		defer res.Body.Close()
		require.Equal(t, http.StatusOK, res.StatusCode, path)
		body, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		return body
	}
	return func() map[string]string {
		out := map[string]string{}
		at := "/county/" + county.Slug
		for _, path := range []string{at, "/es" + at, at + "?map=" + issue.Edition.Code} {
			out[path] = strings.Join(readPage(t, base+path).Find("#t-"+of.Slug+" td.num").Map(func(_ int, s *goquery.Selection) string { return s.Text() }), " ")
		}
		for _, path := range []string{at + "/map.svg", at + "/paper/map.svg", at + "/paper/map.svg?map=" + issue.Edition.Code} {
			said := title.FindSubmatch(fetch(path))
			require.Len(t, said, 2, path)
			out[path] = string(said[1])
		}
		path := "/annual/" + issue.Edition.Code
		rows, err := csv.NewReader(bytes.NewReader(unpacked(t, fetch(path))["tables/townships.csv"])).ReadAll()
		require.NoError(t, err)
		for _, row := range rows {
			if slices.Contains(row, county.Name) && slices.Contains(row, of.Code) {
				bags := slices.Index(rows[0], "bags")
				out[path] = strings.Join(row[bags:bags+3], " ")
			}
		}
		require.Contains(t, out, path)
		return out
	}
}
