package cluster

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// folder is a cluster's place on disk:
//
//	DIR/postgres     the server's own data, mode 0700
//	DIR/server.log   what the server says; never a statement or a value
//	DIR/owner.lock   locked by the process that started the server
//
// Symbolic links in DIR itself have been followed.
type folder struct {
	dir       string
	throwaway bool
	who       identity
}

func (f folder) data() string     { return filepath.Join(f.dir, "postgres") }
func (f folder) lockFile() string { return filepath.Join(f.dir, "owner.lock") }
func (f folder) logFile() string  { return filepath.Join(f.dir, "server.log") }

// openFolder makes the folder when it is missing and settles who runs in it.
func openFolder(dir string) (folder, error) {
	if dir == "" {
		return folder{}, fmt.Errorf("%w: no folder was given", ErrFolder)
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return folder{}, err
	}
	if err := makeFolder(dir); err != nil {
		return folder{}, err
	}
	if dir, err = filepath.EvalSymlinks(dir); err != nil {
		return folder{}, err
	}
	f := folder{dir: dir}
	if f.who, err = f.owner(); err != nil {
		return folder{}, err
	}
	return f, f.reachable()
}

// makeFolder makes dir. Root's must let another user through, to the data that
// will be that user's, and lets it see nothing else.
func makeFolder(dir string) error {
	if st, err := os.Stat(dir); err == nil {
		if !st.IsDir() {
			return fmt.Errorf("%w: %s is not a folder", ErrFolder, dir)
		}
		return nil
	}
	mode := fs.FileMode(0o700)
	if os.Geteuid() == 0 {
		mode = 0o711
	}
	if err := os.MkdirAll(dir, mode); err != nil {
		return fmt.Errorf("%w: %w", ErrFolder, err)
	}
	return os.Chmod(dir, mode) // whatever the umask took away
}

// owner settles whom the server runs as: whoever the data, or an empty folder,
// belongs to already, so that root and the user whose folder it is can take
// turns.
func (f folder) owner() (identity, error) {
	st, err := os.Lstat(f.data())
	made := err == nil
	if errors.Is(err, fs.ErrNotExist) {
		st, err = os.Stat(f.dir)
	}
	if err != nil {
		return identity{}, fmt.Errorf("%w: %w", ErrFolder, err)
	}
	sys, ok := st.Sys().(*syscall.Stat_t)
	if !ok || !st.IsDir() {
		return identity{}, fmt.Errorf("%w: %s is not a folder of data", ErrFolder, f.data())
	}
	self, uid := os.Geteuid(), int(sys.Uid)
	switch {
	case made && uid != self && self != 0, made && uid == 0:
		return identity{}, fmt.Errorf("%w: the data in %s belongs to another user (number %d)", ErrFolder, f.dir, uid)
	case self != 0 || uid == 0:
		return unprivileged()
	}
	return identity{uid: uid, gid: int(sys.Gid), drop: true}, nil
}

// reachable checks, when the server runs as somebody else, that this user gets
// through every folder on the way.
func (f folder) reachable() error {
	if !f.who.drop {
		return nil
	}
	for d := f.dir; ; d = filepath.Dir(d) {
		st, err := os.Stat(d)
		if err != nil {
			return fmt.Errorf("%w: %w", ErrFolder, err)
		}
		bit := fs.FileMode(0o001)
		switch sys, ok := st.Sys().(*syscall.Stat_t); {
		case !ok:
		case int(sys.Uid) == f.who.uid:
			bit = 0o100
		case int(sys.Gid) == f.who.gid:
			bit = 0o010
		}
		if st.Mode()&bit == 0 {
			return fmt.Errorf("%w: as root, the database runs as user number %d, who may not enter %s; give a folder outside it, such as /var/lib/sixmile",
				ErrFolder, f.who.uid, d)
		}
		if d == "/" {
			return nil
		}
	}
}

// tryLock takes the folder's lock and returns nil when another process has it.
// Closing the file gives the lock back; so does the death of the process.
func (f folder) tryLock() (*os.File, error) {
	file, err := f.openOwn(f.lockFile(), os.O_RDWR)
	if err != nil {
		return nil, err
	}
	err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, file.Close()
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("cluster: lock %s: %w", f.lockFile(), err), file.Close())
	}
	if !f.stillLockedBy(file) { // removed between opening and locking
		return nil, file.Close()
	}
	return file, nil
}

// stillLockedBy reports whether the lock file in the folder is the one that is
// held: somebody may have removed the whole folder under a running program.
func (f folder) stillLockedBy(file *os.File) bool {
	held, err := file.Stat()
	if err != nil {
		return false
	}
	there, err := os.Lstat(f.lockFile())
	return err == nil && os.SameFile(held, there)
}

// openOwn opens or makes a file of mode 0600 that belongs to whom the server
// runs as. That user may write to the folder, so root follows no link of its
// making and gives away only what it has just made.
func (f folder) openOwn(path string, flags int) (*os.File, error) {
	file, err := os.OpenFile(path, flags|os.O_CREATE|os.O_EXCL|syscall.O_NOFOLLOW, 0o600)
	if err == nil {
		return file, f.give(file)
	}
	if errors.Is(err, fs.ErrExist) {
		file, err = os.OpenFile(path, flags|syscall.O_NOFOLLOW, 0)
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrFolder, err)
	}
	return file, nil
}

// give hands an open file or folder to whom the server runs as; on failure it
// is closed.
func (f folder) give(file *os.File) error {
	if !f.who.drop {
		return nil
	}
	if err := file.Chown(f.who.uid, f.who.gid); err != nil {
		return errors.Join(fmt.Errorf("cluster: %w", err), file.Close())
	}
	return nil
}

// giveDir is give for a folder by name. It goes by a handle because a name
// can be swapped for a link, and a folder cannot be linked to.
func (f folder) giveDir(path string) error {
	dir, err := os.OpenFile(path, syscall.O_DIRECTORY|syscall.O_NOFOLLOW, 0)
	if err != nil {
		return fmt.Errorf("cluster: %w", err)
	}
	if err := f.give(dir); err != nil {
		return err
	}
	return dir.Close()
}

// version reads which major version made the data; 0 when there is none yet.
func (f folder) version() (int, error) {
	b, err := os.ReadFile(filepath.Join(f.data(), "PG_VERSION"))
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("%w: %w", ErrFolder, err)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(b)))
	if err != nil {
		return 0, fmt.Errorf("%w: %s says no version", ErrFolder, filepath.Join(f.data(), "PG_VERSION"))
	}
	return major, nil
}

// maxSocketDir is what the kernel's 107 bytes for a socket's path leave for
// its folder: the file is called .s.PGSQL.5432.
const maxSocketDir = 107 - len("/.s.PGSQL.5432")

// makeSocketDir makes the folder for the socket, which alone guards the
// database and so must be ours and closed to others. Want is a path to use
// again, or empty. Otherwise the name follows from the data folder; if somebody
// else has taken that name in a shared folder such as /tmp, a random one does.
func (f folder) makeSocketDir(want string) (string, error) {
	if want != "" {
		return want, f.claimSocketDir(want)
	}
	if f.throwaway {
		dir := filepath.Join(f.dir, "s")
		return dir, f.claimSocketDir(dir)
	}
	sum := sha256.Sum256([]byte(f.dir))
	parent := f.socketParent()
	dir := filepath.Join(parent, "sixmile-"+strconv.Itoa(f.who.uid)+"-"+hex.EncodeToString(sum[:6]))
	err := f.claimSocketDir(dir)
	if !errors.Is(err, errTaken) {
		return dir, err
	}
	if dir, err = os.MkdirTemp(parent, "sixmile-"); err != nil {
		return "", fmt.Errorf("cluster: %w", err)
	}
	return dir, f.claimSocketDir(dir)
}

var errTaken = errors.New("cluster: the socket folder belongs to somebody else")

// claimSocketDir makes dir, or checks that it is a real folder of ours that
// nobody else can enter. In a folder with the sticky bit nobody can swap it
// afterwards.
func (f folder) claimSocketDir(dir string) error {
	err := os.Mkdir(dir, 0o700)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("cluster: socket folder: %w", err)
	}
	st, err := os.Lstat(dir)
	if err != nil {
		return fmt.Errorf("cluster: socket folder: %w", err)
	}
	sys, ok := st.Sys().(*syscall.Stat_t)
	mine := ok && (int(sys.Uid) == f.who.uid || int(sys.Uid) == os.Geteuid())
	if !st.IsDir() || !mine || st.Mode().Perm()&0o077 != 0 {
		return errTaken
	}
	return f.giveDir(dir)
}

// socketParent prefers a place only we (or for root, only root) can write to.
func (f folder) socketParent() string {
	parent, owner, closed := os.Getenv("XDG_RUNTIME_DIR"), f.who.uid, fs.FileMode(0o077)
	if f.who.drop {
		parent, owner, closed = "/run", 0, 0o022
	}
	st, err := os.Stat(parent)
	if err != nil || !st.IsDir() || st.Mode().Perm()&closed != 0 || len(parent) > maxSocketDir-40 {
		return "/tmp"
	}
	if sys, ok := st.Sys().(*syscall.Stat_t); !ok || int(sys.Uid) != owner {
		return "/tmp"
	}
	return parent
}
