package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update-licenses", false, "write licenses.txt anew")

// licenseWords tell a license by a sentence that only it has; the names are those of
// the SPDX list (https://spdx.org/licenses/).
var licenseWords = []struct{ id, words string }{
	{"Apache-2.0", "Apache License Version 2.0, January 2004"},
	{"MPL-2.0", "Mozilla Public License, version 2.0"},
	{"OFL-1.1", "SIL OPEN FONT LICENSE Version 1.1"},
	{"ISC", "Permission to use, copy, modify, and/or distribute this software for any purpose with or without fee is hereby granted"},
	{"MIT", "Permission is hereby granted, free of charge, to any person obtaining a copy"},
	{"BSD-3-Clause", "endorse or promote products derived from this software without specific prior written permission"},
	{"BSD-2-Clause", "Redistributions in binary form must reproduce the above copyright notice"},
}

// kindOf is the license of a text; empty where it is none that the program may be made
// with.
func kindOf(text string) string {
	flat := strings.ToLower(strings.Join(strings.Fields(text), " "))
	for _, l := range licenseWords {
		if strings.Contains(flat, strings.ToLower(l.words)) {
			return l.id
		}
	}
	return ""
}

// linked asks the go command which modules the program is linked from, the standard
// library besides.
func linked(t *testing.T) []module {
	t.Helper()
	out, err := exec.Command("go", "list", "-deps", "-f",
		`{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}`, "sixmile/cmd/sixmile").Output()
	require.NoError(t, err)
	root, err := exec.Command("go", "env", "GOROOT").Output()
	require.NoError(t, err)
	dirs := map[string]bool{"std " + "go " + strings.TrimSpace(string(root)): true}
	for line := range strings.Lines(string(out)) {
		dirs[strings.TrimSpace(line)] = true
	}
	delete(dirs, "")
	var all []module
	for line := range dirs {
		f := strings.Fields(line)
		require.Len(t, f, 3)
		m := module{Path: f[0], Version: f[1]}
		m.Text = licenseIn(t, f[2])
		m.License = kindOf(m.Text)
		require.NotEmpty(t, m.License, "%s has a license that is not on the list of those the program may be made with", m.Path)
		all = append(all, m)
	}
	sort.Slice(all, func(i, k int) bool { return all[i].Path < all[k].Path })
	return all
}

func licenseIn(t *testing.T, dir string) string {
	t.Helper()
	// A notice has to be passed on beside its license.
	var all []string
	for _, start := range []string{"LICENSE", "LICENCE", "COPYING", "NOTICE"} {
		found, err := filepath.Glob(filepath.Join(dir, "["+start[:1]+strings.ToLower(start[:1])+"]*"))
		require.NoError(t, err)
		for _, name := range found {
			if base := strings.ToUpper(filepath.Base(name)); strings.HasPrefix(base, start) && !strings.HasSuffix(base, ".GO") {
				if text, err := os.ReadFile(name); err == nil {
					all = append(all, strings.TrimSpace(string(text)))
				}
			}
		}
	}
	require.NotEmpty(t, all, "%s has no license file", dir)
	return strings.Join(all, "\n\n")
}

// The list is what the program is linked from, and every license is one of those that
// may be.
func TestLicenses(t *testing.T) {
	all := linked(t)
	if *update {
		var text bytes.Buffer
		for _, m := range all {
			fmt.Fprintf(&text, "%s%s %s %s\n%s\n\n", moduleMark, m.Path, m.Version, m.License, strings.TrimSpace(m.Text))
		}
		require.NoError(t, os.WriteFile("licenses.txt", text.Bytes(), 0o644))
		return
	}
	var want, got []string
	for _, m := range all {
		want = append(want, m.Path+" "+m.Version+" "+m.License)
	}
	for _, m := range readLicenses(licenseTexts) {
		got = append(got, m.Path+" "+m.Version+" "+m.License)
		require.Greater(t, len(m.Text), 500, m.Path)
	}
	require.Equal(t, want, got, "write it anew with: go test ./cmd/sixmile -run TestLicenses -update-licenses")
}

func TestLicensesCommand(t *testing.T) {
	code, out, errs := try(t, "", "licenses")
	require.Zero(t, code, errs)
	require.Contains(t, out, "github.com/jackc/pgx/v5")
	require.Contains(t, out, "BSD-3-Clause")
	code, full, _ := try(t, "", "licenses", "--full")
	require.Zero(t, code)
	require.Greater(t, len(full), 10*len(out))
	code, text, _ := try(t, "", "licenses", "--sbom")
	require.Zero(t, code)
	// The properties that the format requires (CycloneDX 1.5, from memory).
	var doc map[string]any
	require.NoError(t, json.Unmarshal([]byte(text), &doc))
	require.Equal(t, "CycloneDX", doc["bomFormat"])
	require.Equal(t, "1.5", doc["specVersion"])
	parts := doc["components"].([]any)
	require.Len(t, parts, len(readLicenses(licenseTexts)))
	refs := map[string]bool{}
	for _, p := range parts {
		c := p.(map[string]any)
		require.Equal(t, "library", c["type"])
		require.NotEmpty(t, c["name"])
		refs[c["bom-ref"].(string)] = true
	}
	require.Len(t, refs, len(parts), "a reference stands once")
	require.True(t, slices.ContainsFunc(parts, func(p any) bool {
		return strings.HasPrefix(fmt.Sprint(p.(map[string]any)["purl"]), "pkg:golang/github.com/jackc/pgx/v5@v5.")
	}))
}
