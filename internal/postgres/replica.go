package postgres

import (
	"context"

	"sixmile/internal/gazette"
)

// Followed reads editions from a standing copy of the database (a streaming
// replica, over its Public connection) and asks the database itself only what the
// newest edition is. So a recall is off the pages with the next request, however
// far the copy lags behind: an edition is read from the copy only once the copy
// knows as much.
type Followed struct{ primary, replica *Published }

// NewFollowed makes the store.
func NewFollowed(primary, replica DB) *Followed {
	return &Followed{NewPublished(primary), NewPublished(replica)}
}

// Version is the database's; the copy's while the database does not answer.
func (s *Followed) Version(ctx context.Context) (gazette.Version, error) {
	v, err := s.primary.Version(ctx)
	if err != nil && Unavailable(err) && ctx.Err() == nil {
		return s.replica.Version(ctx)
	}
	return v, err
}

// Issue loads an edition whole, from the copy where it has caught up or the
// database is away.
func (s *Followed) Issue(ctx context.Context, no int) (*gazette.Issue, error) {
	has, err := s.replica.Version(ctx)
	if err != nil {
		return s.primary.Issue(ctx, no)
	}
	if should, err := s.primary.Version(ctx); err == nil && should != has {
		return s.primary.Issue(ctx, no)
	}
	issue, err := s.replica.Issue(ctx, no)
	if err != nil && Unavailable(err) && ctx.Err() == nil {
		return s.primary.Issue(ctx, no)
	}
	return issue, err
}

// OpenReplica makes a pool for a copy. It need not be there now: pages are read
// from the database itself until it is.
func OpenReplica(ctx context.Context, dsn string) (_ *Pool, err error) {
	defer wrap(&err, "OpenReplica")
	return openLater(ctx, dsn)
}
