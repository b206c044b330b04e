package cluster

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

const (
	throwawayPrefix = "sixmile-throwaway-"

	// A folder is made a moment before it is locked; younger ones are left
	// alone so that a sweep does not take one in between.
	sweepAge = 30 * time.Second

	tmpfsMagic = 0x01021994 // statfs(2)
	roomy      = 2 << 30    // bytes free in memory before we take some
)

// throwawayBases lists folders for throw-away clusters, best first. Copying a
// database in memory takes a tenth of what it takes on disk.
func throwawayBases() []string {
	var st syscall.Statfs_t
	err := syscall.Statfs("/dev/shm", &st)
	if err == nil && st.Type == tmpfsMagic && st.Bavail*uint64(st.Bsize) > roomy {
		return []string{"/dev/shm", "/tmp"}
	}
	return []string{"/tmp"}
}

// throwawayFolder makes a new folder nobody else has and sweeps old ones.
func throwawayFolder(ctx context.Context) (folder, error) {
	who, err := unprivileged()
	if err != nil {
		return folder{}, err
	}
	var errs []error
	for _, base := range throwawayBases() {
		sweep(ctx, base, sweepAge)
		dir, err := os.MkdirTemp(base, throwawayPrefix)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		f := folder{dir: dir, throwaway: true, who: who}
		if who.drop {
			if err := os.Chmod(dir, 0o711); err != nil {
				return folder{}, errors.Join(err, os.RemoveAll(dir))
			}
		}
		return f, nil
	}
	return folder{}, fmt.Errorf("cluster: no place for a throw-away database: %w", errors.Join(errs...))
}

// sweep removes throw-away folders of ours that no living process holds, as
// they are left by kill -9. What cannot be removed now is left to the next one.
func sweep(ctx context.Context, base string, age time.Duration) {
	dirs, err := filepath.Glob(filepath.Join(base, throwawayPrefix+"*"))
	if err != nil {
		return
	}
	for _, dir := range dirs {
		st, err := os.Lstat(dir)
		if err != nil || !st.IsDir() || time.Since(st.ModTime()) < age {
			continue
		}
		if sys, ok := st.Sys().(*syscall.Stat_t); !ok || int(sys.Uid) != os.Geteuid() {
			continue
		}
		f := folder{dir: dir, throwaway: true}
		lock, err := f.tryLock()
		if err != nil || lock == nil {
			continue
		}
		if clearServers(ctx, f.data()) == nil {
			_ = os.RemoveAll(dir) // the next sweep tries again
		}
		_ = lock.Close() // nothing was written
	}
}

// tail returns the end of a log for an error message.
func tail(path string, from int64) string {
	b, err := os.ReadFile(path)
	if err != nil || int64(len(b)) < from {
		return ""
	}
	b = b[from:]
	if len(b) > 2000 {
		b = b[len(b)-2000:]
	}
	return strings.TrimSpace(string(b))
}
