package annual_test

import (
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What must not compile does not: a sheet or a book of one copy is never taken for
// one of a copy that more people see, by no call and by no conversion. The first
// snippets, which must compile, show that the others fail for what they try.
func TestCopiesAreTypes(t *testing.T) {
	imports := exports(t, "sixmile/internal/annual", "sixmile/internal/annual/tally", "sixmile/internal/annual/parcel", "sixmile/internal/money")
	for body, good := range map[string]bool{
		`_ = annual.ForOffice(public, office)`:                                        true,
		`_ = annual.ForSponsor(public, annual.SponsorSheet(nil, public, rounded, 0))`: true,
		`_ = parcel.Write(nil, nil, public, parcel.Options{})`:                        true,
		`_ = annual.SponsorCounty{Issued: annual.About(7, 0)}`:                        true,
		`_ = annual.ForSponsor(public, office)`:                                       false,
		`_ = annual.ForSponsor(annual.ForOffice(public, office))`:                     false,
		`_ = annual.ForOffice(annual.ForSponsor(public), office)`:                     false,
		`var b annual.Book[annual.Public] = annual.ForOffice(public, office); _ = b`:  false,
		`var b annual.Book[annual.Public] = annual.ForSponsor(public); _ = b`:         false,
		`_ = annual.Sheet[annual.Public](office)`:                                     false,
		`_ = annual.Sheet[annual.Sponsor](office)`:                                    false,
		`_ = annual.Book[annual.Public](annual.ForOffice(public, office))`:            false,
		`_ = annual.Sheet[annual.Public]{t: office.Table()}`:                          false,
		`_ = annual.Sheet[annual.Public]{office.Table()}`:                             false,
		`_ = annual.Book[annual.Public]{Period: public.Period, sheets: nil}`:          false,
		`_ = annual.SponsorCounty{Issued: 7}`:                                         false,
		`_ = annual.SponsorCounty{Issued: annual.Rounded{n: 7, told: true}}`:          false,
		`_ = annual.Rounded(struct{n int; told bool}{7, true})`:                       false,
		`_ = tally.Figures{}.Sheets(nil, nil)[0].Table().Public()`:                    false,
	} {
		err := compiles(imports, body)
		if good {
			require.NoError(t, err, body)
		} else {
			require.Error(t, err, body)
		}
	}
}

const snippet = `package p
import ("sixmile/internal/annual"; "sixmile/internal/annual/tally"; "sixmile/internal/annual/parcel")
var public annual.Book[annual.Public]
var office annual.Sheet[annual.Office]
var rounded []annual.SponsorCounty
var _ tally.Figures
var _ parcel.Options
func f() { `

func compiles(imports types.Importer, body string) error {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, "p.go", snippet+body+" }", 0)
	if err != nil {
		return err
	}
	_, err = (&types.Config{Importer: imports}).Check("p", set, []*ast.File{file}, nil)
	return err
}

// exports reads what the compiler knows of packages, and of those that they import.
func exports(t *testing.T, packages ...string) types.Importer {
	cmd := exec.Command("go", append([]string{"list", "-export", "-deps", "-f", "{{.ImportPath}} {{.Export}}"}, packages...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	require.NoError(t, err)
	files := make(map[string]string)
	for line := range strings.Lines(string(out)) {
		path, file, _ := strings.Cut(strings.TrimSpace(line), " ")
		files[path] = file
	}
	return importer.ForCompiler(token.NewFileSet(), "gc", func(path string) (io.ReadCloser, error) { return os.Open(files[path]) })
}
