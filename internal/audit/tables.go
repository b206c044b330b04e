package audit

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Tables reads an archive of the annual summary back: the tables and the maps of
// counties and townships, and the figures that joined townships have together.
type Tables struct {
	// Source names the archive, for people.
	Source string
	// Fetch gives the archive.
	Fetch    func(ctx context.Context) ([]byte, error)
	Edition  int
	Counties []County
	Levels   []string // in words, lowest first
}

// Figures reads them all. The archive is of one edition.
func (t Tables) Figures(ctx context.Context, edition int) ([]Claim, error) {
	if edition != t.Edition {
		return nil, nil
	}
	body, err := t.Fetch(ctx)
	if err != nil {
		return nil, err
	}
	z, err := zip.NewReader(bytes.NewReader(body), int64(len(body)))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", t.Source, err)
	}
	r := &tableReader{Tables: t, byCode: make(map[string]County)}
	for _, c := range t.Counties {
		r.byCode[c.Code] = c
	}
	want := map[string]bool{"counties.csv": true, "townships.csv": true, "groups.csv": true, "counties.geojson": true, "townships.geojson": true}
	for _, f := range z.File {
		name := f.Name[strings.LastIndexByte(f.Name, '/')+1:]
		if !want[name] {
			continue
		}
		delete(want, name)
		if err := r.file(f, name); err != nil {
			return nil, fmt.Errorf("%s: %s: %w", t.Source, name, err)
		}
	}
	if len(want) > 0 {
		return nil, fmt.Errorf("%s: files are missing: %v", t.Source, want)
	}
	return r.claims, nil
}

// tableReader collects what one file after another says.
type tableReader struct {
	Tables
	byCode map[string]County
	from   string
	claims []Claim
}

func (r *tableReader) file(f *zip.File, name string) error {
	in, err := f.Open()
	if err != nil {
		return err
	}
	defer in.Close()
	body, err := io.ReadAll(io.LimitReader(in, 256<<20))
	if err != nil {
		return err
	}
	r.from = r.Source + " " + name
	rows, head, err := readRows(name, body)
	if err != nil {
		return err
	}
	for i, row := range rows {
		if err := r.row(name, head, row); err != nil {
			return fmt.Errorf("row %d: %w", i+1, err)
		}
	}
	return nil
}

// readRows reads a file of either format: values by column, and the columns in
// their order.
func readRows(name string, body []byte) (rows []map[string]string, head []string, err error) {
	if strings.HasSuffix(name, ".csv") {
		all, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(body, []byte("\ufeff")))).ReadAll()
		if err != nil || len(all) == 0 {
			return nil, nil, fmt.Errorf("cannot be read: %w", err)
		}
		for _, cells := range all[1:] {
			row := make(map[string]string, len(cells))
			for i, c := range cells {
				row[all[0][i]] = c
			}
			rows = append(rows, row)
		}
		return rows, all[0], nil
	}
	var c struct {
		Features []struct{ Properties json.RawMessage }
	}
	if err := json.Unmarshal(body, &c); err != nil {
		return nil, nil, err
	}
	for _, f := range c.Features {
		row, names, err := properties(f.Properties)
		if err != nil {
			return nil, nil, err
		}
		rows, head = append(rows, row), names
	}
	return rows, head, nil
}

// properties are a feature's, numbers as they are written.
func properties(raw json.RawMessage) (map[string]string, []string, error) {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	row, names := make(map[string]string), []string(nil)
	if _, err := d.Token(); err != nil {
		return nil, nil, err
	}
	for d.More() {
		key, err := d.Token()
		if err != nil {
			return nil, nil, err
		}
		v, err := d.Token()
		if err != nil {
			return nil, nil, err
		}
		name := fmt.Sprint(key)
		names = append(names, name)
		if v != nil {
			row[name] = fmt.Sprint(v)
		}
	}
	return row, names, nil
}

// row claims what a row of one of the tables says.
func (r *tableReader) row(file string, head []string, row map[string]string) error {
	c, known := r.byCode[row["county_code"]]
	if !known {
		return fmt.Errorf("no county has the code %q", row["county_code"])
	}
	s := Scope{County: c.ID}
	switch {
	case strings.HasPrefix(file, "townships"):
		id, known := c.Codes[row["township_code"]]
		if !known {
			return fmt.Errorf("no township has the code %q", row["township_code"])
		}
		s.Township = id
		r.claim(s, Mark, row["mark"])
	case strings.HasPrefix(file, "groups") && row["group"] == "rest":
		s.Rest = true
	case strings.HasPrefix(file, "groups"):
		n, err := strconv.Atoi(row["group"])
		if err != nil {
			return err
		}
		s.Joined = n
	default:
		r.claim(s, Shown, row["townships_shown"])
		r.claim(s, FoundIn, row["townships_with_eggs"])
		if row["fall"] != "" {
			fall := Scope{County: c.ID}
			year, err := strconv.Atoi(row["fall"])
			if err != nil {
				return err
			}
			fall.Fall = year
			r.claim(fall, Samples, row["fall_bags"])
			r.claim(fall, Finds, row["fall_eggs"])
		}
	}
	return r.bags(s, head, row)
}

// bags claims the numbers of bags, and the highest level in words.
func (r *tableReader) bags(s Scope, head []string, row map[string]string) error {
	fixed := map[string]Measure{"bags": Samples, "none_found": NoneFound, "unconfirmed": Unconfirmed, "level_not_shown": Unsorted, "with_eggs": Finds, "sure": Judged}
	rank := 0
	for i, name := range r.Levels {
		if name == "none found" || name == "unconfirmed" {
			rank = i + 1
		}
	}
	for _, name := range head {
		m, known := fixed[name]
		if !known && strings.HasPrefix(name, "level_") {
			m, known = Level(rank), true
			rank++
		}
		if !known {
			continue
		}
		value := row[name]
		if value == "" {
			value = "0"
		}
		r.claim(s, m, value)
	}
	if rank != len(r.Levels) {
		return fmt.Errorf("%d levels, and the table has %d", rank, len(r.Levels))
	}
	text := strings.TrimPrefix(row["highest_level"], "at least ")
	highest := -1
	for i, name := range r.Levels {
		if name == text {
			highest = i
		}
	}
	if text != "" && highest < 0 {
		return fmt.Errorf("no level table has %q", text)
	}
	r.claim(s, Highest, strconv.Itoa(highest))
	return nil
}

func (r *tableReader) claim(s Scope, m Measure, value string) {
	r.claims = append(r.claims, Claim{Source: r.from, Edition: r.Edition, Scope: s, Measure: m, Value: value})
}
