package office

import (
	"net/http"

	"sixmile/internal/account"
	"sixmile/internal/tabular"
	"sixmile/web/shell"
)

// Bench is what the lab's pages and the signing stand on: one or two stores in
// real work.
type Bench struct {
	SignOff    SignOff
	Batches    Batches
	Trays      Trays
	Cups       Cups
	Ledgers    Ledgers
	Idle       Idle
	Strays     Strays
	Slips      Slips
	Histories  Histories
	Fresh      Fresh
	Controls   Controls
	Twins      Twins
	Methods    Methods
	Uploads    Uploads
	Indicators Indicators
}

// benchRoutes are the lab's own pages beside logging in and counting.
func (o *office) benchRoutes() []shell.Route {
	const get, post = http.MethodGet, http.MethodPost
	return []shell.Route{
		{Method: get, Path: "/office/sign-off", May: account.SignOff, Handler: o.signoffShow},
		{Method: post, Path: "/office/sign-off", May: account.SignOff, Handler: o.signoffPost},
		{Method: get, Path: "/office/trays", May: account.KeyCounts, Handler: o.traysShow},
		{Method: post, Path: "/office/trays", May: account.LogBags, Handler: o.traysPost},
		{Method: get, Path: "/office/trays/{no}", May: account.KeyCounts, Handler: o.trayOne},
		{Method: post, Path: "/office/trays/{no}", May: account.KeyCounts, Handler: o.trayPost},
		{Method: get, Path: "/office/trays/{no}/labels.pdf", May: account.KeyCounts, Handler: o.trayLabels},
		{Method: get, Path: "/office/quality", May: account.KeyCounts, Handler: o.qualityShow},
		{Method: post, Path: "/office/quality", May: account.KeyCounts, Handler: o.qualityPost},
		{Method: get, Path: "/office/methods", May: account.KeyCounts, Handler: o.methodsShow},
		{Method: post, Path: "/office/methods", May: account.KeepRecipes, Handler: o.methodsPost},
		{Method: get, Path: "/office/reported", May: account.KeyCounts, Handler: o.reportedForm},
		{Method: post, Path: "/office/reported", May: account.KeyCounts, Handler: o.reportedPost},
		{Method: post, Path: "/office/sign-off/{id}/follow-up", May: account.SignOff, Handler: o.signoffFollow},
		{Method: get, Path: "/office/upload", May: account.KeyCounts, Handler: o.uploadForm},
		{Method: post, Path: "/office/upload", May: account.KeyCounts, Handler: o.uploadPost, MaxBody: maxUpload},
		{Method: get, Path: "/office/upload/template.csv", May: account.KeyCounts, Handler: o.uploadTemplate(tabular.CSV)},
		{Method: get, Path: "/office/upload/template.xlsx", May: account.KeyCounts, Handler: o.uploadTemplate(tabular.Workbook)},
		{Method: get, Path: "/office/upload/columns.csv", May: account.KeyCounts, Handler: o.uploadDictionary},
		{Method: get, Path: "/office/upload/{token}", May: account.KeyCounts, Handler: o.draftShow},
		{Method: post, Path: "/office/upload/{token}", May: account.KeyCounts, Handler: o.draftPost},
		{Method: get, Path: "/office/upload/{token}/verdicts.csv", May: account.KeyCounts, Handler: o.verdicts},
		{Method: get, Path: "/office/indicator", May: account.KeyCounts, Handler: o.indicatorShow},
		{Method: post, Path: "/office/indicator", May: account.KeyCounts, Handler: o.indicatorPost},
		{Method: get, Path: "/office/slip", May: account.LogBags, Handler: o.slipForm},
		{Method: post, Path: "/office/slip", May: account.LogBags, Handler: o.slipPost},
		{Method: get, Path: "/office/bag", May: account.KeyCounts, Handler: o.bagShow},
		{Method: get, Path: "/office/sign-off/{id}/slips.pdf", May: account.SignOff, Handler: o.signoffSlips},
	}
}
