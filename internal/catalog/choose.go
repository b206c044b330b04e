package catalog

import (
	"golang.org/x/text/language"
)

// Languages are those that public pages are written in, the first of them the
// one of a reader who asks for none.
func Languages() []*Lang { return []*Lang{English(), Spanish()} }

var matcher = language.NewMatcher([]language.Tag{language.AmericanEnglish, language.MustParse("es-US")})

// Choose is the language that a reader's Accept-Language asks for (RFC 9110,
// section 12.5.4): English for a reader who asks for none that we have, or whose
// wish cannot be read.
func Choose(accept string) *Lang {
	tags, _, err := language.ParseAcceptLanguage(accept)
	if err != nil || len(tags) == 0 {
		return English()
	}
	_, i, sure := matcher.Match(tags...)
	if sure == language.No {
		return English()
	}
	return Languages()[i]
}

// Code is the language's short name, as in addresses and hreflang: "es".
func (l *Lang) Code() string {
	base, _ := l.tag.Base()
	return base.String()
}

// At is the language for pages whose addresses begin with a prefix such as
// "/es"; "" is for addresses that say no language.
func (l *Lang) At(prefix string) *Lang {
	at := *l
	at.prefix = prefix
	return &at
}

// Prefix is the beginning of addresses of pages in this language.
func (l *Lang) Prefix() string { return l.prefix }

// Key tells apart what is kept for readers: pages in two languages, and pages in
// one language whose links begin differently.
func (l *Lang) Key() string { return l.Tag() + l.prefix }
