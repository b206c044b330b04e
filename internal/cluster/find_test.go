//go:build linux

package cluster

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

func TestFind(t *testing.T) {
	s, err := Find()
	require.NoError(t, err)
	require.GreaterOrEqual(t, s.Major, MinPostgreSQL)
	require.True(t, atLeast(s.PostGIS, MinPostGIS))
	require.FileExists(t, filepath.Join(s.Bin, "initdb"))
}

func TestFindRefusesANamedFolderWithoutAServer(t *testing.T) {
	t.Setenv(BinVar, t.TempDir())
	_, err := Find()
	require.ErrorContains(t, err, BinVar)
	require.ErrorIs(t, err, os.ErrNotExist)
}

// fakeServer is a folder of programs that claims a version.
func fakeServer(t *testing.T, version, postgis string) string {
	t.Helper()
	root := t.TempDir()
	bin, ext := filepath.Join(root, "bin"), filepath.Join(root, "share", "extension")
	require.NoError(t, os.MkdirAll(bin, 0o755))
	require.NoError(t, os.MkdirAll(ext, 0o755))
	script := "#!/bin/sh\necho 'postgres (PostgreSQL) " + version + "'\n"
	for _, n := range []string{"initdb", "postgres"} {
		require.NoError(t, os.WriteFile(filepath.Join(bin, n), []byte(script), 0o755))
	}
	if postgis != "" {
		require.NoError(t, os.WriteFile(filepath.Join(ext, "postgis.control"),
			[]byte("# comment\ncomment = 'x'\ndefault_version = '"+postgis+"'\n"), 0o644))
	}
	return bin
}

func TestInspect(t *testing.T) {
	tests := map[string]struct {
		version, postgis string
		want             int
	}{
		"fits":               {"77.1 (Some 77.1-1)", "3.3.0", 77},
		"a test release":     {"78beta1", "3.10.0dev", 78},
		"PostgreSQL too old": {"14.9", "3.5.0", 0},
		"PostGIS too old":    {"77.1", "3.2.9", 0},
		"no PostGIS":         {"77.1", "", 0},
		"no version":         {"devel", "3.5.0", 0},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			bin := fakeServer(t, tt.version, tt.postgis)
			s, err := inspect(bin)
			if tt.want == 0 {
				require.Error(t, err)
				return
			}
			require.NoError(t, err)
			require.Equal(t, Server{Bin: bin, Major: tt.want, PostGIS: tt.postgis}, s)
		})
	}
	_, err := inspect(t.TempDir())
	require.Error(t, err)
}

func TestNamedServerComesFirst(t *testing.T) {
	bin := fakeServer(t, "15.0", "3.3.1")
	t.Setenv(BinVar, bin+"/")
	s, err := Find()
	require.NoError(t, err)
	require.Equal(t, bin, s.Bin)
}

func TestAtLeast(t *testing.T) {
	for version, want := range map[string]bool{
		"3.3.2": true, "3.3": true, "3.10.0": true, "4.0": true, "3.4.0dev": true, "4": true,
		"3.2.9": false, "2.5": false, "3": false, "": false, "x": false,
	} {
		require.Equal(t, want, atLeast(version, "3.3"), version)
	}
}

func TestChoosePackage(t *testing.T) {
	const debian12 = "PRETTY_NAME=\"Debian GNU/Linux 12 (bookworm)\"\nID=debian\nVERSION_ID=\"12\"\n"
	const ubuntu = "ID=ubuntu\nVERSION_ID=\"24.04\"\n"
	tests := map[string]struct {
		search, release string
		installed       map[int]bool
		want            string
	}{
		"one on offer":             {"postgresql-15-postgis-3 - Geographic objects\n", debian12, nil, "postgresql-15-postgis-3"},
		"the newest":               {"postgresql-16-postgis-3 - x\npostgresql-9-postgis-3 - x\npostgresql-17-postgis-3 - x\n", "", nil, "postgresql-17-postgis-3"},
		"beside what is installed": {"postgresql-16-postgis-3 - x\npostgresql-17-postgis-3 - x\n", "", map[int]bool{16: true}, "postgresql-16-postgis-3"},
		"installed but too old":    {"postgresql-14-postgis-3 - x\npostgresql-17-postgis-3 - x\n", "", map[int]bool{14: true}, "postgresql-17-postgis-3"},
		"scripts alone":            {"postgresql-15-postgis-3-scripts - x\n", ubuntu, nil, "postgresql-16-postgis-3"},
		"empty lists":              {"", debian12, nil, "postgresql-15-postgis-3"},
		"unknown system":           {"", "ID=other", nil, "postgresql-postgis"},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, tt.want, choosePackage(parseOffered(tt.search), tt.installed, tt.release))
		})
	}
}

func TestMissingError(t *testing.T) {
	err := missingPackage("postgresql-15-postgis-3")
	require.Contains(t, err.Error(), "apt-get install -y --no-install-recommends postgresql-15-postgis-3")
	require.Equal(t, os.Geteuid() != 0, strings.HasPrefix(err.Line, "sudo "))
}

func TestEnsure(t *testing.T) {
	fits := Server{Bin: "/x", Major: 15, PostGIS: "3.3.2"}
	tests := map[string]struct {
		root      bool
		there     bool
		fails     string // a command that contains this fails
		installs  bool   // whether the installation brings a server
		wantErr   bool
		wantCalls []string
	}{
		"there already":       {there: true},
		"as root":             {root: true, installs: true, wantCalls: []string{"env apt-get update", "env sh -c pkg"}},
		"with sudo":           {installs: true, wantCalls: []string{"sudo -n true", "sudo -n env apt-get update", "sudo -n env sh -c pkg"}},
		"sudo wants a word":   {fails: "true", wantErr: true, wantCalls: []string{"sudo -n true"}},
		"old lists will do":   {root: true, fails: "update", installs: true, wantCalls: []string{"env apt-get update", "env sh -c pkg"}},
		"installation fails":  {root: true, fails: "sh -c", wantErr: true, wantCalls: []string{"env apt-get update", "env sh -c pkg"}},
		"brings nothing good": {root: true, wantErr: true, wantCalls: []string{"env apt-get update", "env sh -c pkg"}},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			there := tt.there
			var calls []string
			i := installer{root: tt.root, missing: func() *MissingError { return missingPackage("pkg") }}
			i.find = func() (Server, error) {
				if there {
					return fits, nil
				}
				return Server{}, i.missing()
			}
			i.run = func(_ context.Context, name string, args ...string) error {
				call := shorten(append([]string{name}, args...))
				calls = append(calls, call)
				if tt.fails != "" && strings.Contains(call, tt.fails) {
					return errors.New("no")
				}
				there = there || tt.installs && strings.Contains(call, "sh -c")
				return nil
			}
			var out strings.Builder
			s, err := i.ensure(t.Context(), &out)
			require.Equal(t, tt.wantCalls, calls)
			if tt.wantErr {
				var m *MissingError
				require.ErrorAs(t, err, &m)
				require.Equal(t, []string{"pkg"}, m.Packages)
				return
			}
			require.NoError(t, err)
			require.Equal(t, fits, s)
			require.Equal(t, !tt.there, strings.Contains(out.String(), "Installing pkg"))
		})
	}
}

// shorten leaves settings and the script out of a command line.
func shorten(args []string) string {
	var kept []string
	for _, a := range args {
		if a == installScript || strings.Contains(a, "=") {
			continue
		}
		kept = append(kept, a)
	}
	return strings.Replace(strings.Join(kept, " "), "sh -c sh ", "sh -c ", 1)
}

// The example is what PostgreSQL 15 writes.
const pidExample = "4711\n/var/lib/x/postgres\n1764080000\n5432\n/run/x\n\n  1048577         0\nready   \n"

func TestParsePIDFile(t *testing.T) {
	p, err := parsePIDFile([]byte(pidExample))
	require.NoError(t, err)
	require.Equal(t, pidFile{PID: 4711, Port: 5432, Socket: "/run/x", Ready: true}, p)
	p, err = parsePIDFile([]byte(strings.Replace(pidExample, "ready   ", "starting", 1)))
	require.NoError(t, err)
	require.False(t, p.Ready)
	for name, text := range map[string]string{
		"empty": "", "cut short": "4711\n/var", "no number": strings.Replace(pidExample, "4711", "x", 1),
		"a group's number": strings.Replace(pidExample, "4711", "-4711", 1), "no port": strings.Replace(pidExample, "5432", "", 1),
	} {
		_, err := parsePIDFile([]byte(text))
		require.ErrorIs(t, err, errPIDFile, name)
	}
}

func FuzzParsePIDFile(f *testing.F) {
	f.Add([]byte(pidExample))
	f.Add([]byte("1\n\n\n1\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := parsePIDFile(b)
		if err == nil && (p.PID <= 0 || p.Port < 1 || p.Port > 65535) {
			t.Fatalf("accepted %+v", p)
		}
	})
}

// The reference here is the driver's own reader of connection strings.
func TestDSN(t *testing.T) {
	c := &Cluster{socket: `/tmp/a b'c\d`}
	for _, tt := range [][2]string{{"office", "staff"}, {"with space", `q'uo\te`}, {"x", ""}} {
		cfg, err := pgx.ParseConfig(c.DSN(tt[0], tt[1]))
		require.NoError(t, err)
		want := tt[1]
		if want == "" {
			want = Superuser
		}
		require.Equal(t, []string{c.socket, tt[0], want}, []string{cfg.Host, cfg.Database, cfg.User})
		require.Nil(t, cfg.TLSConfig)
	}
}
