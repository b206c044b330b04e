// Package pgtest gives each test a database of its own: a copy of one that was
// set up and migrated once per test program, on a throw-away private cluster.
// Where no PostgreSQL with PostGIS is installed it installs one or fails saying
// how; it never skips.
//
// A package whose tests use it needs
//
//	func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }
//
// and package postgres itself tests from outside, as postgres_test, because
// this package imports it.
//
// It does not import testing, so that nothing of the testing package can end
// up in the program through it.
package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"sixmile/internal/cluster"
	"sixmile/internal/postgres"
)

// TB is what is needed of *testing.T or *testing.B.
type TB interface {
	Helper()
	Cleanup(func())
	Fatalf(format string, args ...any)
	Name() string
}

const (
	template = "sixmile_test" // roles are named after it and serve all its copies

	bootPatience  = 10 * time.Minute // packages may have to be installed first
	clonePatience = time.Minute
)

// suite is the cluster of one test program.
type suite struct {
	mu      sync.Mutex
	open    bool // within Main
	booted  bool
	bootErr error
	cluster *cluster.Cluster
	logins  postgres.Logins
	clones  int
}

// A test program has one cluster, and testing offers no other place to keep
// what all its tests share.
var shared suite

// Main runs the tests and then stops the cluster, if any of them started it.
func Main(m interface{ Run() int }) int {
	shared.mu.Lock()
	shared.open = true
	shared.mu.Unlock()
	code := m.Run()
	if err := shared.close(); err != nil {
		fmt.Fprintln(os.Stderr, "pgtest:", err)
		return max(code, 1)
	}
	return code
}

// Database makes a database for one test and drops it afterwards. The first
// call of a test program takes about two seconds, later ones some 20 ms.
func Database(t TB) postgres.Logins {
	t.Helper()
	name, logins, err := shared.clone()
	if err != nil {
		t.Fatalf("pgtest: %s: %v", t.Name(), err)
	}
	t.Cleanup(func() {
		t.Helper()
		if err := shared.drop(name); err != nil {
			t.Fatalf("pgtest: %s: %v", t.Name(), err)
		}
	})
	return logins
}

func (s *suite) clone() (string, postgres.Logins, error) {
	name, err := s.next()
	if err != nil {
		return "", postgres.Logins{}, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), clonePatience)
	defer cancel()
	if err := s.cluster.CloneDatabase(ctx, name, template); err != nil {
		return "", postgres.Logins{}, err
	}
	logins, err := s.logins.WithDatabase(name)
	return name, logins, err
}

// next boots the cluster if this is the first call and names the next copy.
// Copies themselves are made side by side.
func (s *suite) next() (string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.open {
		return "", errors.New("the package has no TestMain that calls pgtest.Main")
	}
	if !s.booted {
		s.booted = true
		s.bootErr = s.boot()
	}
	if s.bootErr != nil {
		return "", s.bootErr
	}
	s.clones++
	return fmt.Sprintf("test_%d", s.clones), nil
}

func (s *suite) boot() error {
	ctx, cancel := context.WithTimeout(context.Background(), bootPatience)
	defer cancel()
	if _, err := cluster.Ensure(ctx, os.Stderr); err != nil {
		return err
	}
	c, err := cluster.Open(ctx, cluster.Options{Throwaway: true})
	if err != nil {
		return err
	}
	s.cluster = c // close stops it, whatever follows
	if _, err := c.CreateDatabase(ctx, template); err != nil {
		return err
	}
	s.logins, err = postgres.Provision(ctx, c.DSN(template, cluster.Superuser))
	return err
}

func (s *suite) drop(name string) error {
	ctx, cancel := context.WithTimeout(context.Background(), clonePatience)
	defer cancel()
	return s.cluster.DropDatabase(ctx, name)
}

func (s *suite) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open = false
	if s.cluster == nil {
		return nil
	}
	return s.cluster.Stop()
}
