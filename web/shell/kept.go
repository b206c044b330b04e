package shell

import (
	"context"
	"net/http"
	"strconv"
	"strings"
)

// Kept is an answer that is the same for everybody who asks for one address in
// one content coding, for as long as Stands says so.
type Kept struct {
	Tag  string // its entity tag
	Body []byte // as it goes out; whoever holds it must not change it
	// Stands tells whether the answer would still be this one if it were made now.
	Stands func(ctx context.Context) bool
	// Route is the registered route that answered.
	Route string
}

type keptKey struct{}

// WithKept readies a request for a page that may be kept: into is filled in by the
// page with Keep. The server's front does this; see package web.
func WithKept(r *http.Request, into *Kept) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), keptKey{}, into))
}

// Keep says that the answer to this request may be given again to whoever asks for
// the same address in the same coding, while it stands. Nothing of it may come from
// the request's headers other than language and coding, and none of it from who asks.
func Keep(r *http.Request, k Kept) {
	if into, _ := r.Context().Value(keptKey{}).(*Kept); into != nil {
		*into = k
	}
}

// KeptRoute notes which route answered.
func KeptRoute(r *http.Request, route string) {
	if into, _ := r.Context().Value(keptKey{}).(*Kept); into != nil {
		into.Route = route
	}
}

// Coding is the best of our content codings that a reader takes (RFC 9110, section
// 12.5.3): "br", "gzip", or "" for none.
func Coding(accept []string) string {
	best := ""
	for _, list := range accept {
		for entry := range strings.SplitSeq(list, ",") {
			switch coding := wanted(entry); {
			case strings.EqualFold(coding, "br"):
				return "br"
			case strings.EqualFold(coding, "gzip"):
				best = "gzip"
			}
		}
	}
	return best
}

// TakesGzip tells whether a list of codings has gzip, whatever else it has.
func TakesGzip(list string) bool {
	for entry := range strings.SplitSeq(list, ",") {
		if strings.EqualFold(wanted(entry), "gzip") {
			return true
		}
	}
	return false
}

// wanted is the coding of one entry; "" where its weight rules it out.
func wanted(entry string) string {
	coding, weight, _ := strings.Cut(entry, ";")
	if _, q, ok := strings.Cut(weight, "="); ok {
		if n, err := strconv.ParseFloat(strings.TrimSpace(q), 64); err != nil || n <= 0 {
			return ""
		}
	}
	return strings.TrimSpace(coding)
}

// Holds tells whether a list of tags has this one, by the weak comparison of
// RFC 9110, section 8.8.3.2.
func Holds(lists []string, etag string) bool {
	want := strings.TrimPrefix(etag, "W/")
	for _, list := range lists {
		for tag := range strings.SplitSeq(list, ",") {
			tag = strings.TrimSpace(tag)
			if tag == "*" || strings.TrimPrefix(tag, "W/") == want {
				return true
			}
		}
	}
	return false
}
