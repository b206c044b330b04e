package cluster

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"
)

// watch keeps the server up until Stop: it restarts one of ours that ended
// unasked, and takes over when the process we had joined has gone.
func (c *Cluster) watch() {
	defer close(c.watched)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	go func() {
		<-c.quit
		cancel()
	}()
	for {
		wait := time.Duration(0)
		if h := c.holding(); h != nil {
			select {
			case <-ctx.Done():
				return
			case <-h.proc.gone:
				c.say("The database ended by itself; starting it again.")
				wait = restartPause
			}
		} else {
			wait = joinPoll
		}
		if !pause(ctx, wait) {
			return
		}
		if err := c.revive(ctx); err != nil && ctx.Err() == nil {
			c.say("The database does not start: %v", err)
			if !pause(ctx, 5*restartPause) {
				return
			}
		}
	}
}

func (c *Cluster) holding() *holding {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.held
}

// revive starts the server if the lock is ours or free. The socket keeps its
// path, so that connection strings given out before stay good.
func (c *Cluster) revive(ctx context.Context) error {
	h := c.holding()
	if h != nil {
		if !c.folder.stillLockedBy(h.lock) {
			return fmt.Errorf("%w: %s was removed or replaced", ErrFolder, c.folder.dir)
		}
		return c.start(ctx, h.lock)
	}
	lock, err := c.folder.tryLock()
	if err != nil || lock == nil {
		return err
	}
	if err := c.start(ctx, lock); err != nil {
		return errors.Join(err, lock.Close())
	}
	return nil
}

// Stop ends the server if this process started it, and only leaves it
// otherwise. A throw-away cluster is removed. Later calls return what the
// first did.
func (c *Cluster) Stop() error {
	c.stopped.Do(func() {
		close(c.quit)
		<-c.watched
		if h := c.holding(); h != nil {
			c.stopErr = c.end(h)
		}
	})
	return c.stopErr
}

func (c *Cluster) end(h *holding) error {
	steps := cleanEnding
	if c.folder.throwaway {
		steps = quickEnding
	}
	var errs []error
	if h.proc.running() {
		errs = append(errs, h.proc.end(steps...))
	}
	errs = append(errs, clearServers(context.Background(), c.folder.data()), os.RemoveAll(c.socket))
	if c.folder.throwaway {
		errs = append(errs, os.RemoveAll(c.folder.dir))
	}
	return errors.Join(append(errs, h.lock.Close())...)
}
