package main

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"strings"
)

// licenseTexts lists the modules that are part of the program, with their licenses.
// A test makes it from the module graph and fails where it is not up to date.
//
//go:embed licenses.txt
var licenseTexts string

// module is a module in the program.
type module struct{ Path, Version, License, Text string }

// moduleMark begins a module in licenses.txt.
const moduleMark = "=== "

// readLicenses takes licenses.txt apart.
func readLicenses(all string) []module {
	var out []module
	for _, part := range strings.Split("\n"+all, "\n"+moduleMark)[1:] {
		head, text, _ := strings.Cut(part, "\n")
		var m module
		if f := strings.Fields(head); len(f) == 3 {
			m.Path, m.Version, m.License = f[0], f[1], f[2]
		}
		m.Text = strings.TrimSpace(text)
		out = append(out, m)
	}
	return out
}

type licensesCommand struct {
	Full bool `help:"With the licenses' whole texts."`
	SBOM bool `help:"As a software bill of materials (CycloneDX 1.5, JSON)." name:"sbom"`
}

// Run prints what the program is made of.
func (l licensesCommand) Run(c console) error {
	all := readLicenses(licenseTexts)
	if l.SBOM {
		enc := json.NewEncoder(c.out)
		enc.SetIndent("", "  ")
		return enc.Encode(bill(all))
	}
	for _, m := range all {
		fmt.Fprintf(c.out, "%-60s %-42s %s\n", m.Path, m.Version, m.License)
		if l.Full {
			fmt.Fprintf(c.out, "\n%s\n\n", m.Text)
		}
	}
	return nil
}

// The fields of the format, as far as there is something to say.
type (
	sbom struct {
		Format     string      `json:"bomFormat"`
		Spec       string      `json:"specVersion"`
		Version    int         `json:"version"`
		Metadata   sbomMeta    `json:"metadata"`
		Components []component `json:"components"`
	}
	sbomMeta struct {
		Component component `json:"component"`
	}
	component struct {
		Type     string         `json:"type"`
		Ref      string         `json:"bom-ref"`
		Name     string         `json:"name"`
		Version  string         `json:"version"`
		PURL     string         `json:"purl,omitempty"`
		Licenses []sbomLicenses `json:"licenses,omitempty"`
	}
	sbomLicenses struct {
		License sbomLicense `json:"license"`
	}
	sbomLicense struct {
		ID string `json:"id"`
	}
)

// bill lists the modules; the program itself is of the version that its build says.
func bill(all []module) sbom {
	own := component{Type: "application", Ref: "sixmile", Name: "sixmile", Version: version()}
	out := sbom{Format: "CycloneDX", Spec: "1.5", Version: 1, Metadata: sbomMeta{own}}
	for _, m := range all {
		c := component{Type: "library", Ref: m.Path + "@" + m.Version, Name: m.Path, Version: m.Version,
			Licenses: []sbomLicenses{{sbomLicense{m.License}}}}
		if strings.Contains(m.Path, ".") {
			c.PURL = "pkg:golang/" + m.Path + "@" + m.Version
		}
		out.Components = append(out.Components, c)
	}
	return out
}
