//go:build unix

package main

import (
	"os"
	"path/filepath"
	"syscall"
)

// noFollow keeps root from writing where a link leads.
const noFollow = syscall.O_NOFOLLOW

// lockWhole waits until no other process has the file; the lock goes when it is closed.
func lockWhole(file *os.File) error { return syscall.Flock(int(file.Fd()), syscall.LOCK_EX) }

// likeFolder gives a file that root made to whom its folder belongs, so that both can
// work there in turn.
func likeFolder(file *os.File) error {
	st, err := os.Stat(filepath.Dir(file.Name()))
	if err != nil || os.Geteuid() != 0 {
		return err
	}
	if sys, ok := st.Sys().(*syscall.Stat_t); ok {
		return file.Chown(int(sys.Uid), int(sys.Gid))
	}
	return nil
}
