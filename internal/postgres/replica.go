package postgres

import (
	"context"
	"sync/atomic"

	"sixmile/internal/gazette"
)

// Followed reads editions from a standing copy of the database (a streaming
// replica, over its Public connection) and asks the database itself only what the
// newest edition is. So a recall is off the pages with the next request, however
// far the copy lags behind: an edition is read from the copy only once the copy
// knows as much. What the database said last holds while it does not answer: a copy
// that has not heard of a recall yet would bring the figures back.
type Followed struct {
	primary, replica *Published
	told             atomic.Pointer[gazette.Version] // what the database said last
}

// NewFollowed makes the store.
func NewFollowed(primary, replica DB) *Followed {
	return &Followed{primary: NewPublished(primary), replica: NewPublished(replica)}
}

// Version is the database's; the copy's while the database does not answer.
func (s *Followed) Version(ctx context.Context) (gazette.Version, error) {
	v, err := s.primary.Version(ctx)
	if err == nil {
		s.told.Store(&v)
		return v, nil
	}
	if !Unavailable(err) || ctx.Err() != nil {
		return v, err
	}
	has, copyErr := s.replica.Version(ctx)
	if copyErr == nil && s.behind(has) {
		return v, err
	}
	return has, copyErr
}

// behind tells whether the copy lacks something that the database has said. Recalls
// and withdrawals only become more, and without another withdrawal so do editions.
func (s *Followed) behind(has gazette.Version) bool {
	told := s.told.Load()
	return told != nil && (has.Withdrawn < told.Withdrawn || has.Recalled < told.Recalled ||
		has.Withdrawn == told.Withdrawn && has.Number < told.Number)
}

// Issue loads an edition whole, from the copy where it has caught up or the
// database is away.
func (s *Followed) Issue(ctx context.Context, no int) (*gazette.Issue, error) {
	has, err := s.replica.Version(ctx)
	if err != nil || s.behind(has) {
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
