// Package place holds the places a sample may come from, the reading of legal
// descriptions, and the rule that cuts a county's townships into districts.
package place

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// ID numbers a place. It stays the same when boundaries are loaded again.
type ID int32

// Kind is what a place is.
type Kind string

// The kinds of place. A township may be surveyed, civil, or whatever polygon
// the office loads in its stead; a surveyed township cut by a county line is
// one township for each county. A district is about six neighboring townships
// of one county.
const (
	County   Kind = "county"
	Township Kind = "township"
	District Kind = "district"
)

// Place is a county, a township or a district.
type Place struct {
	ID     ID
	Kind   Kind
	Code   string // the boundary file's code, such as "T21N R8E"; unique in its county
	Name   string // what people call it; may equal Code
	Slug   string // for addresses; unique in its county
	County ID     // the county it lies in; 0 for a county
}

// Label is how a list or a map names the place: its name, and its code where
// that says more.
func (p Place) Label() string {
	switch {
	case p.Name == "" || strings.EqualFold(p.Name, p.Code):
		return p.Code
	case p.Kind == Township && p.Code != "" && strings.ContainsFunc(p.Code, unicode.IsLetter):
		return p.Name + " (" + p.Code + ")"
	default:
		return p.Name
	}
}

// undecomposed are the Latin letters that Unicode does not take apart into a
// plain letter and a mark.
var undecomposed = strings.NewReplacer("ß", "ss", "æ", "ae", "œ", "oe", "ø", "o", "đ", "d", "ð", "d",
	"ł", "l", "þ", "th", "ı", "i", "&", " and ", "½", " 1 2", "¼", " 1 4", "¾", " 3 4")

// maxSlug keeps addresses short; names are longer than this by mistake only.
const maxSlug = 60

// Slug turns a name into a part of an address: small letters and digits
// without marks, joined by hyphens; apostrophes vanish. A name without any
// Latin letter or digit gives "", for the caller to replace.
func Slug(name string) string {
	var b strings.Builder
	gap := false
	for _, r := range norm.NFKD.String(undecomposed.Replace(strings.ToLower(name))) {
		switch {
		case 'a' <= r && r <= 'z' || '0' <= r && r <= '9':
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			gap = false
			b.WriteRune(r)
		case unicode.Is(unicode.Mn, r) || strings.ContainsRune("'’ʻ`", r):
		default:
			gap = true
		}
		if b.Len() >= maxSlug {
			break
		}
	}
	return b.String()
}
