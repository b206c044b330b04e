package open

import "sixmile/internal/atlas"

// PaperFiles lists the files that can be had of a county, by the last part of
// their addresses.
func PaperFiles() []string {
	out := make([]string, len(paperFiles))
	for i, f := range paperFiles {
		out[i] = f.name
	}
	return out
}

// PaperMeasures lists what a map on paper can show, as addresses say it.
func PaperMeasures() []string {
	var out []string
	for _, m := range atlas.Measures() {
		out = append(out, m.String())
	}
	return out
}

// PaperPapers lists the papers, as addresses say them.
func PaperPapers() []string {
	var out []string
	for _, p := range sheetPapers {
		out = append(out, p.String())
	}
	return out
}
