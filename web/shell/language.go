package shell

import (
	"bytes"
	"context"
	"io"
	"strings"

	"github.com/a-h/templ"

	"sixmile/internal/catalog"
)

// Editions of the public pages: by address without a language, which follow what
// the browser asks for, and by addresses that say one.
//
// Pages write their links without a language ("/bags"); Frame and Render give
// each the language of its page, so that no page can forget to.

// Tongues are the languages that public pages are served in, with the beginnings
// of their addresses. The first is for addresses that say none.
func Tongues() []*catalog.Lang {
	out := []*catalog.Lang{catalog.English()}
	for _, l := range catalog.Languages() {
		out = append(out, l.At("/"+l.Code()))
	}
	return out
}

// neutral are beginnings of addresses that no language goes before: the office,
// which is in English, and what is the same in all.
var neutral = []string{"/office", "/static", "/healthz"}

// Path is an address of this site in a language. Addresses that say a language
// already, and those that have none, stay as they are.
func Path(l *catalog.Lang, address string) string {
	if l.Prefix() == "" || !strings.HasPrefix(address, "/") || strings.HasPrefix(address, "//") {
		return address
	}
	for _, n := range neutral {
		if under(address, n) {
			return address
		}
	}
	for _, t := range Tongues() {
		if t.Prefix() != "" && under(address, t.Prefix()) {
			return address
		}
	}
	return l.Prefix() + address
}

// under tells whether an address is another's or below it.
func under(address, top string) bool {
	rest, ok := strings.CutPrefix(address, top)
	return ok && (rest == "" || strings.ContainsAny(rest[:1], "/?#"))
}

// TongueOf is the language that an address says, and the address without it; nil
// where it says none.
func TongueOf(address string) (*catalog.Lang, string) {
	for _, t := range Tongues() {
		if p := t.Prefix(); p != "" && under(address, p) {
			rest := strings.TrimPrefix(address, p)
			if !strings.HasPrefix(rest, "/") {
				rest = "/" + rest
			}
			return t, rest
		}
	}
	return nil, address
}

// localize gives the links, forms and drawings of a page its language. What is
// not an attribute cannot look like one: a quotation mark in a text is escaped.
func localize(l *catalog.Lang, page []byte) []byte {
	if l.Prefix() == "" {
		return page
	}
	const start = `="/`
	var out bytes.Buffer
	for {
		i := bytes.Index(page, []byte(start))
		if i < 0 {
			break
		}
		value := i + len(start) - 1
		end := bytes.IndexByte(page[value:], '"')
		if end < 0 {
			break
		}
		out.Write(page[:value])
		address := string(page[value : value+end])
		if leads(page[:i]) {
			address = Path(l, address)
		}
		out.WriteString(address)
		page = page[value+end:]
	}
	out.Write(page)
	return out.Bytes()
}

// leads tells whether the attribute at the end of a piece of a page holds an
// address to go to. Links to other languages say so by hreflang.
func leads(before []byte) bool {
	name := before[bytes.LastIndexAny(before, " \t\n")+1:]
	tag := before[bytes.LastIndexByte(before, '<')+1:]
	if bytes.Contains(tag, []byte("hreflang=")) {
		return false
	}
	switch string(name) {
	case "href", "action", "formaction", "src", "srcset":
		return true
	}
	return bytes.HasPrefix(name, []byte("data-"))
}

// inTongue renders a component with the links of a language.
func inTongue(l *catalog.Lang, c templ.Component) templ.Component {
	if l.Prefix() == "" {
		return c
	}
	return templ.ComponentFunc(func(ctx context.Context, w io.Writer) error {
		var buf bytes.Buffer
		if err := c.Render(ctx, &buf); err != nil {
			return err
		}
		_, err := w.Write(localize(l, buf.Bytes()))
		return err
	})
}

type tongueKey struct{}

// tongue is what a request says of its language: which it is in, and the address
// to ask for the same page in another; "" for a page that was posted.
type tongue struct {
	lang    *catalog.Lang
	address string
}

// WithTongue puts the language of a request's address into its context, with the
// rest of the address.
func WithTongue(ctx context.Context, l *catalog.Lang, address string) context.Context {
	return context.WithValue(ctx, tongueKey{}, tongue{l, address})
}

// Other is a link to a page in another language.
type Other struct{ Code, Tag, Name, Href string }

// others are the links to this page in the languages there are, its own among
// them; none on the office's pages and on pages that were posted.
func others(ctx context.Context, p Page) []Other {
	address := p.Address
	if t, ok := ctx.Value(tongueKey{}).(tongue); ok && address == "" {
		address = t.address
	}
	if p.Staff != nil || address == "" || under(address, "/office") {
		return nil
	}
	var out []Other
	for _, t := range Tongues()[1:] {
		out = append(out, Other{Code: t.Code(), Tag: t.Tag(), Name: t.Say("frame.language"), Href: Path(t, address)})
	}
	return append(out, Other{Code: "x-default", Href: address})
}

// Again are the other languages in which a page that was posted can be had, by
// posting the same again: such a page has no address of its own to lead to.
func Again(ctx context.Context, p Page, action string) []Other {
	if len(others(ctx, p)) > 0 {
		return nil
	}
	var out []Other
	for _, t := range Tongues()[1:] {
		if t.Code() != p.Lang.Code() {
			out = append(out, Other{Code: t.Code(), Tag: t.Tag(), Name: t.Say("frame.language"), Href: Path(t, action)})
		}
	}
	return out
}
