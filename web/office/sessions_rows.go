package office

import (
	"context"
	"time"

	"sixmile/internal/account"
	"sixmile/internal/catalog"
	"sixmile/internal/desk"
)

// Sessions lists and ends the sessions of one person.
type Sessions interface {
	// Sessions marks the one of t.
	Sessions(ctx context.Context, who account.ID, t account.Token, today time.Time) ([]account.Session, error)
	EndSession(ctx context.Context, who account.ID, session [16]byte) error
	EndOthers(ctx context.Context, who account.ID, t account.Token) error
}

// sessionRow is a session in the list: days only, no address and no browser,
// because none is kept.
type sessionRow struct {
	ID, Created, Used string
	Current           bool
}

func sessionRows(l *catalog.Lang, list []account.Session) []sessionRow {
	var out []sessionRow
	for _, s := range list {
		out = append(out, sessionRow{idText(desk.ID(s.ID)), l.Date(s.Created), l.Date(s.Used), s.Current})
	}
	return out
}
