package press

import (
	"context"
	"errors"
	"fmt"
)

// ErrBusy says that too many pictures and documents are being made.
var ErrBusy = errors.New("too many pictures at once")

// Limit lets a few run at a time: pictures and documents take much memory and
// time, pages little.
type Limit struct{ slots chan struct{} }

// NewLimit makes a limit of n, at least one.
func NewLimit(n int) *Limit { return &Limit{make(chan struct{}, max(n, 1))} }

// Do runs f when there is room; if the context ends before, it returns ErrBusy.
func (l *Limit) Do(ctx context.Context, f func() error) error {
	select {
	case l.slots <- struct{}{}:
	case <-ctx.Done():
		return fmt.Errorf("press.Limit.Do: %w: %w", ErrBusy, context.Cause(ctx))
	}
	defer func() { <-l.slots }()
	return f()
}
