package postgres

import (
	"context"
	"io"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"sixmile/internal/gazette"
)

// saying is a database that says which version it has, and nothing else.
type saying struct {
	DB
	version gazette.Version
	err     error
	asked   int
}

func (s *saying) QueryRow(context.Context, string, ...any) pgx.Row { s.asked++; return s }

func (s *saying) Scan(to ...any) error {
	if s.err == nil && len(to) == 4 {
		*to[0].(*int), *to[1].(*int), *to[2].(*int) = s.version.Number, s.version.Withdrawn, s.version.Recalled
		return nil
	}
	return s.err
}

// Figures that were taken back do not come back from a copy that has not heard of it,
// when the database goes before the copy has caught up.
func TestACopyThatLagsDoesNotUndoARecall(t *testing.T) {
	now := gazette.Version{Number: 12, Withdrawn: 1, Recalled: 3}
	for name, c := range map[string]struct {
		has   gazette.Version
		shown bool
	}{
		"the same":               {now, true},
		"further":                {gazette.Version{Number: 12, Withdrawn: 1, Recalled: 4}, true},
		"one withdrawn since":    {gazette.Version{Number: 11, Withdrawn: 2, Recalled: 3}, true},
		"a recall behind":        {gazette.Version{Number: 12, Withdrawn: 1, Recalled: 2}, false},
		"a withdrawal behind":    {gazette.Version{Number: 13, Withdrawn: 0, Recalled: 3}, false},
		"an edition behind":      {gazette.Version{Number: 11, Withdrawn: 1, Recalled: 3}, false},
		"nothing was copied yet": {gazette.Version{}, false},
	} {
		t.Run(name, func(t *testing.T) {
			primary, replica := &saying{version: now}, &saying{version: c.has}
			pages := NewFollowed(primary, replica)
			v, err := pages.Version(t.Context())
			require.NoError(t, err)
			require.Equal(t, now, v)
			primary.err = io.ErrUnexpectedEOF
			v, err = pages.Version(t.Context())
			require.Equal(t, c.shown, err == nil)
			if c.shown {
				require.Equal(t, c.has, v)
				return
			}
			require.True(t, Unavailable(err), "whoever asks shows what is known")
			asked := replica.asked
			_, err = pages.Issue(t.Context(), c.has.Number)
			require.True(t, Unavailable(err))
			require.Equal(t, asked+1, replica.asked, "it is asked how far it is, and for no figures")
		})
	}
	// A program that has just started knows no better than the copy.
	v, err := NewFollowed(&saying{err: io.ErrUnexpectedEOF}, &saying{version: now}).Version(t.Context())
	require.NoError(t, err)
	require.Equal(t, now, v)
}
