// Package static holds the files that browsers fetch: the stylesheet, scripts,
// typefaces and the program's sign. Nothing is fetched from anywhere else.
package static

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"github.com/andybalholm/brotli"
)

//go:embed *.css *.js *.svg fonts/*.woff2
var files embed.FS

// Drawing is the name of a stylesheet that carries the typefaces of drawings in
// itself: a page with a map asks once for both.
const Drawing = "drawing.css"

// Sign is the program's sign as markup; Icon is it as an address that holds the
// whole, which saves every page a request.
var (
	Sign = string(File("sign.svg"))
	Icon = "data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(File("sign.svg"))
)

// file is one file as it goes out. What packs well is packed once, when it is
// first asked for.
type file struct {
	body   []byte
	kind   string
	digest string
	pack   func() map[string][]byte // by content coding
}

// all are the files by name; they never change while the program runs.
var all = func() map[string]*file {
	out := map[string]*file{}
	add := func(name string, body []byte) {
		sum := sha256.Sum256(body)
		f := &file{body: body, kind: mime.TypeByExtension(path.Ext(name)), digest: hex.EncodeToString(sum[:6])}
		if path.Ext(name) == ".woff2" {
			f.kind = "font/woff2" // packed already
			f.pack = func() map[string][]byte { return nil }
		} else {
			f.pack = sync.OnceValue(func() map[string][]byte { return packed(body) })
		}
		out[name] = f
	}
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := files.ReadFile(name)
		if err != nil {
			return err
		}
		if path.Ext(name) == ".css" {
			b = brief(b)
		}
		add(name, b)
		return nil
	})
	if err != nil {
		panic(err) // the files are embedded
	}
	add(Drawing, drawing())
	return out
}()

// brief leaves out what only the authors of a stylesheet read, comments and
// indentation: a tenth of its bytes on the way.
func brief(css []byte) []byte {
	var out bytes.Buffer
	for len(css) > 0 {
		before, rest, found := bytes.Cut(css, []byte("/*"))
		for line := range bytes.Lines(before) {
			out.Write(bytes.TrimLeft(line, " \t\r\n"))
		}
		if css = rest; found {
			_, css, _ = bytes.Cut(rest, []byte("*/"))
		}
	}
	return out.Bytes()
}

// drawing writes the stylesheet of that name.
func drawing() []byte {
	var b bytes.Buffer
	for _, f := range []struct {
		name   string
		weight int
	}{{"Regular", 400}, {"SemiBold", 600}} {
		data := base64.StdEncoding.EncodeToString(File("fonts/SixmileCondensed-" + f.name + ".woff2"))
		fmt.Fprintf(&b, "@font-face{font-family:\"Sixmile Condensed\";src:url(data:font/woff2;base64,%s) format(\"woff2\");font-weight:%d;font-display:swap}\n", data, f.weight)
	}
	return b.Bytes()
}

// packed packs a file in the codings that browsers take.
func packed(body []byte) map[string][]byte {
	var gz, br bytes.Buffer
	zw := gzip.NewWriter(&gz)
	// A tenth smaller for a tenth of a second, once; what holds typefaces, which are
	// packed already, would take longer and gain nothing.
	level := brotli.BestCompression
	if len(body) > 1<<16 {
		level = brotli.DefaultCompression
	}
	// The window holds the largest file; the usual one of 4 MB takes ten times as
	// much to pack with.
	bw := brotli.NewWriterOptions(&br, brotli.WriterOptions{Quality: level, LGWin: 18})
	// Writing to memory does not fail.
	zw.Write(body) //nolint:errcheck
	zw.Close()     //nolint:errcheck
	bw.Write(body) //nolint:errcheck
	bw.Close()     //nolint:errcheck
	return map[string][]byte{"gzip": gz.Bytes(), "br": br.Bytes()}
}

// Path is the address of a file, with its digest, so that it may be kept for ever.
func Path(name string) string {
	f := all[name]
	if f == nil {
		return "/static/" + name
	}
	return "/static/" + name + "?v=" + f.digest
}

// File is the content of a file; nil for none. Pages that must stand alone carry
// files in themselves. The caller must not change the bytes.
func File(name string) []byte {
	b, err := files.ReadFile(name)
	if err != nil {
		return nil
	}
	return b
}

// Handler serves the files under /static/.
func Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f, ok := all[strings.TrimPrefix(path.Clean(r.URL.Path), "/static/")]
		if !ok {
			http.NotFound(w, r)
			return
		}
		h := w.Header()
		if r.URL.Query().Get("v") == f.digest {
			h.Set("Cache-Control", "public, max-age=31536000, immutable")
		} else {
			// The stylesheet names its typefaces without a digest.
			h.Set("Cache-Control", "public, max-age=86400")
		}
		h.Set("Content-Type", f.kind)
		body, tag := f.body, f.digest
		if in := f.pack(); in != nil {
			h.Add("Vary", "Accept-Encoding")
			for _, coding := range []string{"br", "gzip"} {
				if takes(r, coding) {
					body, tag = in[coding], tag+"-"+coding
					h.Set("Content-Encoding", coding)
					break
				}
			}
		}
		h.Set("ETag", `"`+tag+`"`)
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
	})
}

// takes tells whether a browser takes a coding. Browsers name what they take and
// weigh nothing; who weighs is given the file as it is.
func takes(r *http.Request, coding string) bool {
	for c := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		if strings.TrimSpace(c) == coding {
			return true
		}
	}
	return false
}
