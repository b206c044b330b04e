package office

import (
	"sixmile/internal/catalog"
	"sixmile/internal/tray"
)

// ledgerView accounts for a number of bags in a table.
type ledgerView struct {
	Total int
	Parts []ledgerPart
	Left  int // that no part explains
	Even  bool
}

type ledgerPart struct {
	Name string
	N    int
}

func newLedgerView(l *catalog.Lang, area string, in tray.Ledger) ledgerView {
	v := ledgerView{Total: in.Total, Left: in.Unexplained(), Even: in.Even()}
	for _, p := range append(in.Parts, in.Strange...) {
		if p.N != 0 {
			v.Parts = append(v.Parts, ledgerPart{l.SayOf(area, p.Key), p.N})
		}
	}
	return v
}
