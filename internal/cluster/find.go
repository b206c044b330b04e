package cluster

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// The oldest versions the program is written for.
const (
	MinPostgreSQL = 15
	MinPostGIS    = "3.3"
)

// BinVar names the environment variable that points at a folder of PostgreSQL
// programs to use before any other.
const BinVar = "SIXMILE_PG_BIN"

// Server is a set of PostgreSQL programs that has PostGIS beside it.
type Server struct {
	Bin     string // folder with initdb and postgres
	Major   int    // PostgreSQL major version
	PostGIS string // version that CREATE EXTENSION postgis will make
}

// MissingError means that no fitting server is installed. Line is what an
// administrator would run to install it.
type MissingError struct {
	Packages []string
	Line     string
}

func (e *MissingError) Error() string {
	return fmt.Sprintf("Sixmile needs PostgreSQL %d or newer with PostGIS %s or newer, and this machine has none. Install it with:\n  %s",
		MinPostgreSQL, MinPostGIS, e.Line)
}

// Find returns the newest installed server that will do. The error is a
// *MissingError when there is none. A folder that the environment names has to be
// one: another server in its place would surprise whoever named it.
func Find() (Server, error) {
	if named := os.Getenv(BinVar); named != "" {
		if _, err := inspect(filepath.Clean(named)); err != nil {
			return Server{}, fmt.Errorf("%s=%s holds no programs of PostgreSQL %d or newer with PostGIS %s or newer: %w",
				BinVar, named, MinPostgreSQL, MinPostGIS, err)
		}
	}
	found := findAll()
	if len(found) == 0 {
		return Server{}, missing()
	}
	return found[0], nil
}

// findMajor returns the server that can open a folder made by the given major
// version: PostgreSQL opens no other.
func findMajor(major int) (Server, error) {
	for _, s := range findAll() {
		if s.Major == major {
			return s, nil
		}
	}
	return Server{}, fmt.Errorf("%w: it was made by PostgreSQL %d, which is not installed any more (or lacks PostGIS); install postgresql-%d-postgis-3, or give another folder",
		ErrFolder, major, major)
}

// findAll lists fitting servers: the one the environment names first, then by
// version, newest first.
func findAll() []Server {
	var found []Server
	for _, bin := range candidates() {
		if s, err := inspect(bin); err == nil && !slices.Contains(found, s) {
			found = append(found, s)
		}
	}
	rest := found
	if named := os.Getenv(BinVar); named != "" && len(found) > 0 && found[0].Bin == filepath.Clean(named) {
		rest = found[1:]
	}
	slices.SortStableFunc(rest, func(a, b Server) int { return b.Major - a.Major })
	return found
}

// candidates lists folders that may hold the server's programs. pg_config
// belongs to the client library's development files and is often absent, so it
// is only one of several ways.
func candidates() []string {
	var dirs []string
	if d := os.Getenv(BinVar); d != "" {
		dirs = append(dirs, filepath.Clean(d))
	}
	for _, pattern := range []string{"/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin"} {
		if found, err := filepath.Glob(pattern); err == nil {
			dirs = append(dirs, found...)
		}
	}
	if out, err := exec.Command("pg_config", "--bindir").Output(); err == nil {
		dirs = append(dirs, strings.TrimSpace(string(out)))
	}
	if p, err := exec.LookPath("initdb"); err == nil {
		if p, err = filepath.EvalSymlinks(p); err == nil {
			dirs = append(dirs, filepath.Dir(p))
		}
	}
	return dirs
}

var (
	errNotServer = errors.New("not a fitting server")

	serverVersion    = regexp.MustCompile(`\) (\d+)[.\d]*`)
	extensionVersion = regexp.MustCompile(`(?m)^\s*default_version\s*=\s*'([^']+)'`)
)

// inspect reads the versions of one folder of programs.
func inspect(bin string) (Server, error) {
	for _, name := range []string{"initdb", "postgres"} {
		st, err := os.Stat(filepath.Join(bin, name))
		if err != nil {
			return Server{}, err
		}
		if st.IsDir() || st.Mode()&0o111 == 0 {
			return Server{}, errNotServer
		}
	}
	out, err := exec.Command(filepath.Join(bin, "postgres"), "--version").Output()
	if err != nil {
		return Server{}, err
	}
	major, err := parseMajor(string(out))
	if err != nil {
		return Server{}, err
	}
	if major < MinPostgreSQL {
		return Server{}, errNotServer
	}
	for _, share := range shareDirs(bin, major) {
		control, err := os.ReadFile(filepath.Join(share, "extension", "postgis.control"))
		if err != nil {
			continue
		}
		v := extensionVersion.FindSubmatch(control)
		if v != nil && atLeast(string(v[1]), MinPostGIS) {
			return Server{Bin: bin, Major: major, PostGIS: string(v[1])}, nil
		}
	}
	return Server{}, errNotServer
}

// shareDirs lists where a server's extension files may be, for the layouts of
// the common packagers.
func shareDirs(bin string, major int) []string {
	root := filepath.Dir(bin)
	return []string{
		fmt.Sprintf("/usr/share/postgresql/%d", major),
		filepath.Join(root, "share"),
		filepath.Join(root, "share", "postgresql"),
	}
}

// parseMajor reads the major version from what "postgres --version" prints,
// such as "postgres (PostgreSQL) 15.20 (Debian 15.20-0+deb12u1)".
func parseMajor(out string) (int, error) {
	m := serverVersion.FindStringSubmatch(out)
	if m == nil {
		return 0, fmt.Errorf("cluster: cannot read the server's version from %q", out)
	}
	return strconv.Atoi(m[1])
}

// atLeast compares dotted versions number by number; anything after the
// leading digits of a part ("3.4.0dev") is ignored.
func atLeast(version, least string) bool {
	have, want := strings.Split(version, "."), strings.Split(least, ".")
	for i := range want {
		var h int
		if i < len(have) {
			h = leadingInt(have[i])
		}
		if w := leadingInt(want[i]); h != w {
			return h > w
		}
	}
	return true
}

func leadingInt(s string) int {
	end := 0
	for end < len(s) && end < 9 && s[end] >= '0' && s[end] <= '9' {
		end++
	}
	n, err := strconv.Atoi(s[:end])
	if err != nil {
		return 0 // no digits at all
	}
	return n
}
