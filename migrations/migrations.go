// Package migrations holds the database's history, one numbered file a step;
// grants.sql says who may do what and is applied after every step; lockdown.sql
// closes the catalogs that would tell row counts.
//
// A file that has been released is never edited: the next change is a new file.
package migrations

import "embed"

// Files are the numbered steps, grants.sql and lockdown.sql.
//
//go:embed *.sql
var Files embed.FS
