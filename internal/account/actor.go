package account

import "context"

type actorKey struct{}

// As says on whose behalf something is done. The stores hand it to the
// database, which notes it in the trail beside whatever changes.
func As(ctx context.Context, who ID) context.Context { return context.WithValue(ctx, actorKey{}, who) }

// Actor is who As named; false for nobody: the command line, the public.
func Actor(ctx context.Context) (ID, bool) {
	who, ok := ctx.Value(actorKey{}).(ID)
	return who, ok
}
