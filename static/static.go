// Package static holds the files that browsers fetch: the stylesheet, scripts,
// typefaces and the program's sign. Nothing is fetched from anywhere else.
package static

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

//go:embed *.css *.js *.svg fonts/*.woff2
var files embed.FS

// digests are computed once: the files never change while the program runs.
var digests = func() map[string]string {
	out := map[string]string{}
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := files.ReadFile(name)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(b)
		out[name] = hex.EncodeToString(sum[:6])
		return nil
	})
	if err != nil {
		panic(err) // the files are embedded
	}
	return out
}()

// Path is the address of a file, with its digest, so that it may be kept for ever.
func Path(name string) string { return "/static/" + name + "?v=" + digests[name] }

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
	server := http.StripPrefix("/static/", http.FileServerFS(files))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := strings.TrimPrefix(path.Clean(r.URL.Path), "/static/")
		digest, ok := digests[name]
		if !ok {
			http.NotFound(w, r)
			return
		}
		if r.URL.Query().Get("v") == digest {
			w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		} else {
			// The stylesheet names its typefaces without a digest.
			w.Header().Set("Cache-Control", "public, max-age=86400")
		}
		server.ServeHTTP(w, r)
	})
}
