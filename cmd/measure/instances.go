package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"sixmile/internal/cluster"
	"sixmile/internal/postgres"
)

// measureInstances has a second instance serve the public pages beside the first,
// reading editions from a streaming replica, and asks both at once, by half the
// connections each. On one machine two are no faster than one; what is looked at is
// that they cost nothing and say the same.
func measureInstances(ctx context.Context, put func(row), log io.Writer) error {
	return serving(ctx, log, func(s *site, first *process) (err error) {
		replica, stop, err := s.follow(ctx, log)
		if err != nil {
			return err
		}
		defer stop()
		second, _, err := s.startAt(ctx, "/", "--only", "public", "--replica", replica)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, second.stop()) }()
		const path = "/county/quillmere"
		var bodies [2][]byte
		var heads [2]http.Header
		for i, p := range []*process{first, second} {
			if bodies[i], heads[i], err = fetch(p.base+path, "gzip"); err != nil {
				return err
			}
		}
		if string(bodies[0]) != string(bodies[1]) || heads[0].Get("Etag") != heads[1].Get("Etag") {
			return errors.New("two instances say two things")
		}
		var one, two []float64
		for range rounds {
			for _, of := range []struct {
				servers []*process
				into    *[]float64
			}{{[]*process{first}, &one}, {[]*process{first, second}, &two}} {
				var wg sync.WaitGroup
				rates, errs := make([]float64, len(of.servers)), make([]error, len(of.servers))
				for i, p := range of.servers {
					wg.Go(func() {
						rates[i], errs[i] = askOver(connections/len(of.servers), strings.TrimPrefix(p.base, "http://"), path, len(bodies[0]))
					})
				}
				wg.Wait()
				if err := errors.Join(errs...); err != nil {
					return err
				}
				sum := 0.0
				for _, r := range rates {
					sum += r
				}
				*of.into = append(*of.into, sum)
			}
		}
		put(atLeast("two instances, one on a replica, against one", "requests/s", middle(two), middle(one), 0.8))
		return nil
	})
}

// follow makes a streaming replica of the site's cluster by PostgreSQL's own means
// and gives the address of its administrator.
func (s *site) follow(ctx context.Context, log io.Writer) (dsn string, stop func(), err error) {
	dir, err := os.MkdirTemp("", "sixmile-replica")
	if err != nil {
		return "", nil, err
	}
	owner, err := os.Stat(filepath.Join(s.dir, "data", "postgres"))
	if err != nil {
		return "", nil, err
	}
	as := func(name string, args ...string) *exec.Cmd {
		cmd := exec.CommandContext(ctx, filepath.Join(s.cluster.Server().Bin, name), args...)
		cmd.Dir, cmd.Stdout, cmd.Stderr = "/", log, log
		if who, ok := owner.Sys().(*syscall.Stat_t); ok && os.Geteuid() == 0 { // PostgreSQL does not run as root
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: who.Uid, Gid: who.Gid}}
		}
		return cmd
	}
	if who, ok := owner.Sys().(*syscall.Stat_t); ok && os.Geteuid() == 0 {
		if err := os.Chown(dir, int(who.Uid), int(who.Gid)); err != nil {
			return "", nil, err
		}
	}
	data := filepath.Join(dir, "data")
	if err := as("pg_basebackup", "-d", s.cluster.DSN("postgres", cluster.Superuser), "-D", data, "-R", "-X", "stream", "-c", "fast").Run(); err != nil {
		return "", nil, fmt.Errorf("pg_basebackup: %w", err)
	}
	server := as("postgres", "-D", data, "-k", dir, "-c", "listen_addresses=", "-c", "port=5432", "-c", "hot_standby=on", "-c", "max_connections=100")
	if err := server.Start(); err != nil {
		return "", nil, err
	}
	stop = func() {
		server.Process.Signal(syscall.SIGQUIT) //nolint:errcheck // it is thrown away with its folder
		server.Wait()                          //nolint:errcheck // as above
		os.RemoveAll(dir)                      //nolint:errcheck // a temporary folder
	}
	dsn = fmt.Sprintf("host=%s port=5432 user=%s dbname=sixmile_demo sslmode=disable", dir, cluster.Superuser)
	for range 200 {
		if p, err := postgres.Open(ctx, dsn); err == nil {
			p.Close()
			return dsn, stop, nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	stop()
	return "", nil, errors.New("the replica did not start")
}
