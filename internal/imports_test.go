package internal_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const module = "sixmile"

// mayImport lists our packages from the ground up, each with those of ours it
// may import. The program's floors stand here: whoever needs a line changed
// is changing the design. Packages of the same floor do not import each other
// unless a line says so.
var mayImport = map[string]string{
	// Nothing below them.
	"internal/fault": "",
	"internal/stat":  "",
	"static":         "static/fonts",
	"static/fonts":   "",
	"migrations":     "",

	// What a sample is.
	"internal/place":     "internal/fault",
	"internal/bag":       "internal/fault",
	"internal/assay":     "internal/fault internal/stat",
	"internal/virulence": "internal/stat internal/assay",
	"internal/money":     "internal/fault internal/stat",
	"internal/tray":      "internal/bag",
	"internal/sample":    "internal/fault internal/stat internal/place internal/bag internal/assay",
	"internal/tabular":   "internal/fault internal/stat internal/place internal/bag internal/assay internal/sample",

	// What may be known of many. The attacker shares nothing with what it attacks.
	"internal/edition":        "internal/fault internal/stat internal/place internal/bag internal/assay internal/sample",
	"internal/edition/attack": "",

	// What an outsider can work out of what is public.
	"internal/audit": "internal/fault internal/edition internal/edition/attack",

	// The years before the program.
	"internal/past": "internal/stat internal/place internal/assay internal/tabular internal/edition",

	// What an office may know of its own results.
	"internal/describe": "internal/stat internal/place internal/assay internal/edition",

	// Where it is heading.
	"internal/edge":      "internal/fault internal/stat internal/place internal/assay internal/edition",
	"internal/plan":      "internal/fault internal/stat internal/place", // nothing that holds a sample
	"internal/lookahead": "internal/fault internal/stat internal/assay",
	"internal/world":     "internal/fault internal/stat internal/place internal/bag internal/assay internal/sample internal/lookahead",

	// The invented state's program, to measure by.
	"internal/edge/proof": "internal/place internal/assay internal/edition internal/edge internal/world",

	// What people see of it, as shapes, as sentences and as lists on a desk.
	"internal/atlas":         "internal/fault internal/stat internal/place internal/assay internal/edition internal/edge static/fonts",
	"internal/atlas/fixture": "internal/atlas", // invented maps for tests
	"internal/catalog":       "internal/fault internal/stat internal/place internal/bag internal/assay internal/sample internal/edition",
	"internal/account":       "internal/fault internal/place",
	"internal/desk":          "internal/atlas internal/fault internal/stat internal/money internal/place internal/bag internal/assay internal/virulence internal/tray internal/sample internal/edition",

	// An edition as its readers get it.
	"internal/gazette": "internal/fault internal/stat internal/place internal/assay internal/edition internal/edge internal/atlas",

	// What a plan is given of an edition, and what came of it.
	"internal/outlook":       "internal/place internal/assay internal/edge internal/edition internal/gazette internal/plan",
	"internal/outlook/proof": "internal/stat internal/place internal/assay internal/edition internal/edge internal/edge/proof internal/plan internal/outlook internal/world",

	// A year as tables. What the public gets of it is worked out here, where nothing
	// with a sample, a bag or a count can be imported.
	"internal/annual":         "internal/stat internal/money internal/place internal/assay internal/edition internal/atlas internal/gazette internal/catalog",
	"internal/annual/tally":   "internal/money internal/place internal/assay internal/edition internal/gazette internal/catalog internal/annual",
	"internal/annual/fixture": "internal/place internal/assay internal/edition internal/atlas internal/gazette", // invented editions for tests
	// The whole of it in one archive.
	"internal/annual/parcel": "internal/money internal/place internal/assay internal/edition internal/atlas internal/gazette internal/catalog internal/annual internal/geofile internal/press",

	// What may be said of a county in front of a room.
	"internal/talk": "internal/stat",

	// Files in and out. The demo goes through interfaces of its own, which
	// cmd fills with the stores.
	"internal/geofile": "internal/fault internal/place",
	"internal/outline": "",
	// What a service of features by the open standard is, whatever it serves.
	"internal/features": "",
	"internal/press":    "internal/fault internal/stat internal/place internal/bag internal/assay internal/sample internal/edition internal/atlas internal/gazette internal/annual internal/catalog static/fonts",
	"internal/demo": "internal/fault internal/stat internal/money internal/place internal/bag internal/assay internal/virulence internal/tray internal/sample internal/tabular internal/edition internal/world " +
		"internal/account internal/desk internal/geofile",

	// Letters to staff.
	"internal/mailer":          "internal/account",
	"internal/mailer/mailtest": "", // a server for tests

	// The database.
	"internal/cluster": "",
	"internal/postgres": "internal/fault internal/stat internal/money internal/place internal/bag internal/assay internal/virulence internal/tray internal/sample internal/tabular internal/past internal/describe internal/edition internal/edition/attack internal/audit internal/lookahead " +
		"internal/plan internal/atlas internal/gazette internal/account internal/desk internal/geofile internal/outline migrations " +
		"internal/annual internal/annual/tally",
	"internal/postgres/pgtest":    "internal/cluster internal/postgres",
	"internal/postgres/yardstick": "internal/bag internal/postgres", // what releases are measured against

	// Pages: never the stores, whose few methods they name as interfaces. The
	// public's pages and the office's do not share views.
	"web/shell":            pages,
	"web/shell/markuptest": "", // for tests
	"web/open":             pages + " web/shell",
	"web/office":           pages + " web/shell",
	"web":                  pages + " web/shell web/open web/office",

	// The programs tie everything together.
	"cmd/sixmile": "*",
	"cmd/measure": "*",
}

const pages = "internal/fault internal/stat internal/money internal/place internal/bag internal/assay internal/virulence internal/tray internal/sample internal/tabular internal/past internal/describe internal/edition " +
	"internal/edge internal/plan internal/outlook internal/lookahead internal/atlas internal/audit internal/gazette internal/talk internal/catalog internal/account internal/desk internal/press internal/geofile internal/features static static/fonts " +
	"internal/annual internal/annual/tally internal/annual/parcel"

// onlyIn lists libraries, the packages below them included, that a few of our
// packages alone may import outside tests. None at all means tests only.
var onlyIn = map[string][]string{
	"testing":                        nil,
	"net/http/httptest":              nil,
	"github.com/stretchr/testify":    nil,
	"pgregory.net/rapid":             nil,
	"github.com/PuerkitoBio/goquery": {"internal/audit", "web/shell/markuptest"}, // reads published pages back
	"github.com/chromedp":            {"cmd/measure"},
	"internal/postgres/pgtest":       nil,
	"github.com/getkin/kin-openapi":  nil,
	"internal/atlas/fixture":         {"cmd/measure"},
	"internal/annual/fixture":        {"cmd/measure"}, // a nation to measure with

	"internal/mailer/mailtest":    nil,
	"web/shell/markuptest":        nil,
	"github.com/wneessen/go-mail": {"internal/mailer"},

	"github.com/prometheus":    {"web"},
	"database/sql":             {"internal/postgres", "internal/geofile"}, // a GeoPackage is a database in a file
	"modernc.org/sqlite":       {"internal/geofile"},
	"github.com/jackc/pgx":     {"internal/postgres", "internal/cluster", "internal/postgres/pgtest", "internal/postgres/yardstick"},
	"github.com/pressly/goose": {"internal/postgres"},
	"github.com/lib/pq":        nil,
}

// source is one Go file's own folder and imports, both without the module's
// name.
type source struct {
	pkg, file string
	imports   []string
	test      bool
}

// readSources parses the imports of every Go file of the module. It reads the
// files itself instead of asking the go command: the test cache notices files
// that a test reads, and build tags hide nothing.
func readSources(t *testing.T, root string) []source {
	t.Helper()
	var sources []source
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			return skipped(root, name)
		}
		if filepath.Ext(name) != ".go" {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		s := source{pkg: path.Dir(filepath.ToSlash(rel)), file: rel, test: strings.HasSuffix(rel, "_test.go")}
		for _, i := range file.Imports {
			p, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			s.imports = append(s.imports, strings.TrimPrefix(p, module+"/"))
		}
		sources = append(sources, s)
		return nil
	})
	require.NoError(t, err)
	return sources
}

// skipped leaves out what the go command leaves out, and the folders at the
// root that .gitignore names.
func skipped(root, dir string) error {
	base := filepath.Base(dir)
	scratch := filepath.Dir(dir) == filepath.Clean(root) && slices.Contains([]string{"tmp", "data", "dist", "node_modules"}, base)
	hidden := base == "testdata" || strings.HasPrefix(base, ".") || strings.HasPrefix(base, "_")
	if dir != root && (scratch || hidden) {
		return filepath.SkipDir
	}
	return nil
}

// faults lists what a file imports against the tables.
func faults(s source) []string {
	if s.test {
		return nil
	}
	allowed, known := mayImport[s.pkg]
	if !known {
		return []string{s.file + ": package " + s.pkg + " is not in the table of imports"}
	}
	var found []string
	for _, imp := range s.imports {
		if _, ours := mayImport[imp]; (ours || isOurs(imp)) && allowed != "*" && !slices.Contains(strings.Fields(allowed), imp) {
			found = append(found, s.file+": "+s.pkg+" may not import "+imp)
		}
		for lib, users := range onlyIn {
			if (imp == lib || strings.HasPrefix(imp, lib+"/")) && !slices.Contains(users, s.pkg) {
				found = append(found, s.file+": "+imp+" is not for "+s.pkg)
			}
		}
	}
	return found
}

// isOurs tells our packages, whose module name has been cut off, from others.
func isOurs(imp string) bool {
	first, _, _ := strings.Cut(imp, "/")
	return slices.Contains([]string{module, "internal", "web", "cmd", "migrations", "static"}, first)
}

func TestImports(t *testing.T) {
	sources := readSources(t, "..")
	require.NotEmpty(t, sources)
	var found []string
	for _, s := range sources {
		found = append(found, faults(s)...)
	}
	require.Empty(t, found, "imports against the table in imports_test.go:\n%s", strings.Join(found, "\n"))
}

// The table itself must name packages it knows, and no package that leads back
// to itself.
func TestImportTable(t *testing.T) {
	var reaches func(from, to string, seen map[string]bool) bool
	reaches = func(from, to string, seen map[string]bool) bool {
		for _, next := range strings.Fields(mayImport[from]) {
			if next == to {
				return true
			}
			if !seen[next] {
				seen[next] = true
				if reaches(next, to, seen) {
					return true
				}
			}
		}
		return false
	}
	for pkg, list := range mayImport {
		for _, imp := range strings.Fields(list) {
			_, known := mayImport[imp]
			require.True(t, known || imp == "*", "%s: unknown package %s", pkg, imp)
		}
		require.False(t, reaches(pkg, pkg, map[string]bool{}), "%s may import itself in a circle", pkg)
	}
}

func TestFaults(t *testing.T) {
	tests := map[string]struct {
		s    source
		want string
	}{
		"allowed":            {source{pkg: "internal/assay", imports: []string{"fmt", "internal/stat"}}, ""},
		"upward":             {source{pkg: "internal/assay", imports: []string{"internal/edition"}}, "may not import internal/edition"},
		"pages and stores":   {source{pkg: "web/open", imports: []string{"internal/postgres"}}, "may not import internal/postgres"},
		"attacker":           {source{pkg: "internal/edition/attack", imports: []string{"internal/edition"}}, "may not import"},
		"unknown package":    {source{pkg: "internal/util"}, "not in the table"},
		"unknown import":     {source{pkg: "internal/assay", imports: []string{"internal/util"}}, "may not import internal/util"},
		"testing":            {source{pkg: "internal/assay", imports: []string{"testing"}}, "not for internal/assay"},
		"below testing":      {source{pkg: "cmd/sixmile", imports: []string{"testing/fstest"}}, "not for cmd/sixmile"},
		"assertions":         {source{pkg: "web", imports: []string{"github.com/stretchr/testify/require"}}, "not for web"},
		"driver in pages":    {source{pkg: "web/open", imports: []string{"github.com/jackc/pgx/v5/pgxpool"}}, "not for web/open"},
		"driver in cmd":      {source{pkg: "cmd/sixmile", imports: []string{"database/sql"}}, "not for cmd/sixmile"},
		"driver in stores":   {source{pkg: "internal/postgres", imports: []string{"github.com/jackc/pgx/v5"}}, ""},
		"cmd imports all":    {source{pkg: "cmd/sixmile", imports: []string{"internal/postgres", "web", "internal/cluster"}}, ""},
		"cmd and test tools": {source{pkg: "cmd/sixmile", imports: []string{"internal/postgres/pgtest"}}, "not for cmd/sixmile"},
		"tests are free":     {source{pkg: "internal/assay", imports: []string{"testing"}, test: true}, ""},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			got := strings.Join(faults(tt.s), "\n")
			if tt.want == "" {
				require.Empty(t, got)
				return
			}
			require.Contains(t, got, tt.want)
		})
	}
}
