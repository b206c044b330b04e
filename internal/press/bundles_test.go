package press_test

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sixmile/internal/bag"
	"sixmile/internal/press"
)

// tool runs a program of the machine. The tests need poppler-utils and zbar-tools
// as readers we did not write; without them they fail.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	require.NoError(t, err, "this test reads the sheet back with %s: install poppler-utils and zbar-tools", name)
	cmd := exec.Command(path, args...)
	// zbarimg complains about a missing desktop bus otherwise.
	cmd.Env = append(os.Environ(), "DBUS_SESSION_BUS_ADDRESS=disabled:")
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), "%s: %s", name, errs.String())
	return out.String()
}

func bundleSheets(t *testing.T, sizes ...int) []press.BundleSheet {
	t.Helper()
	source := rand.NewChaCha8([32]byte{6})
	var out []press.BundleSheet
	for _, n := range sizes {
		s := press.BundleSheet{Head: "Plover County, fall of 2026"}
		for range n {
			c, err := bag.Draw(source)
			require.NoError(t, err)
			s.Bags = append(s.Bags, press.Bag{Code: c, URL: "https://bags.example.org/send?bag=" + string(c)})
		}
		out = append(out, s)
	}
	return out
}

var bagWords = press.BagWords{
	Lang: "en", Title: "Bag sheets",
	Intro: "Cut along the marks. Seal the bags of this sheet together and hand them to one person.",
	Label: "BAG LABEL", Slip: "SLIP", Stub: "STUB", Cup: "CUP",
	LabelNote: "Tie this to the bag. Scan the square with a phone to send in where and when.",
	SlipNote:  "No phone? Fill in the paper form, put it in the bag with this slip.",
	StubNote:  "Keep this. It alone says which field the code is.",
	MyField:   "my field:",
	Footer:    "Results describe the soil in the bag on the day. Soil from out of state is not mailed. Clean soil off equipment.",
}

func TestBundles(t *testing.T) {
	t.Parallel()
	sheets := bundleSheets(t, 6, 1, 4)
	var pdf bytes.Buffer
	require.NoError(t, press.Bundles(&pdf, sheets, bagWords))
	dir := t.TempDir()
	file := filepath.Join(dir, "bags.pdf")
	require.NoError(t, os.WriteFile(file, pdf.Bytes(), 0o600))

	t.Run("text holds every code four times", func(t *testing.T) {
		text := tool(t, "pdftotext", "-raw", file, "-")
		for _, s := range sheets {
			for _, b := range s.Bags {
				require.Equal(t, 4, strings.Count(text, b.Code.String()), "code %s", b.Code)
			}
		}
		require.Equal(t, 11, strings.Count(text, bagWords.MyField))
	})

	t.Run("a scanner reads every QR code", func(t *testing.T) {
		tool(t, "pdftoppm", "-r", "200", "-gray", "-png", file, filepath.Join(dir, "page"))
		pages, err := filepath.Glob(filepath.Join(dir, "page-*.png"))
		require.NoError(t, err)
		require.Len(t, pages, 3)
		for i, page := range pages {
			read := strings.Fields(tool(t, "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", page))
			var want []string
			for _, b := range sheets[i].Bags {
				want = append(want, b.URL, b.URL, b.URL, string(b.Code))
			}
			slices.Sort(read)
			slices.Sort(want)
			require.Equal(t, want, read, "page %d", i+1)
		}
	})

	t.Run("same input, same bytes", func(t *testing.T) {
		var again bytes.Buffer
		require.NoError(t, press.Bundles(&again, sheets, bagWords))
		require.True(t, bytes.Equal(pdf.Bytes(), again.Bytes()))
	})

	t.Run("fonts are embedded", func(t *testing.T) {
		for _, line := range strings.Split(strings.TrimSpace(tool(t, "pdffonts", file)), "\n")[2:] {
			f := strings.Fields(line)
			require.GreaterOrEqual(t, len(f), 6)
			require.Equal(t, "yes", f[len(f)-5], "embedded: %s", line)
		}
	})
}

func TestBundlesLongerThanASheet(t *testing.T) {
	var pdf bytes.Buffer
	require.NoError(t, press.Bundles(&pdf, bundleSheets(t, 8), bagWords))
	require.Equal(t, 2, bytes.Count(pdf.Bytes(), []byte("/Type /Page\n")))
}

func TestBundlesRefusesWhatNoQRCodeHolds(t *testing.T) {
	s := bundleSheets(t, 1)
	s[0].Bags[0].URL = strings.Repeat("x", 5000)
	require.ErrorContains(t, press.Bundles(&bytes.Buffer{}, s, bagWords), "press.Bundles")
}
