//go:build !linux

package cluster

import (
	"context"
	"io"
)

type (
	folder  struct{}
	holding struct{}
)

// Open cannot keep a server on this system; see ErrUnsupported.
func Open(context.Context, Options) (*Cluster, error) { return nil, ErrUnsupported }

// Ensure finds nothing to install on this system; see ErrUnsupported.
func Ensure(context.Context, io.Writer) (Server, error) { return Server{}, ErrUnsupported }

// Stop does nothing: no Cluster can be opened here.
func (c *Cluster) Stop() error { return nil }
