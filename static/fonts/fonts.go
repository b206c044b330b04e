// Package fonts holds the typefaces of Sixmile as TrueType bytes, for measuring
// text, embedding in PDF and drawing PNG. Browsers get the .woff2 files beside them.
// README.md tells where they come from; OFL.txt is their license.
package fonts

import _ "embed"

// Family names as browsers and PDF readers see them.
const (
	Sans      = "Sixmile Sans"
	Condensed = "Sixmile Condensed"
	Serif     = "Sixmile Serif"
)

//go:embed SixmileSans-Regular.ttf
var sansRegular []byte

//go:embed SixmileSans-SemiBold.ttf
var sansSemiBold []byte

//go:embed SixmileCondensed-Regular.ttf
var condensedRegular []byte

//go:embed SixmileCondensed-SemiBold.ttf
var condensedSemiBold []byte

//go:embed SixmileSerif-SemiBold.ttf
var serifSemiBold []byte

// SansRegular returns the text face. The caller must not change the bytes; the
// same holds for the other faces.
func SansRegular() []byte { return sansRegular }

// SansSemiBold returns the bold text face.
func SansSemiBold() []byte { return sansSemiBold }

// CondensedRegular returns the face of map labels and tables.
func CondensedRegular() []byte { return condensedRegular }

// CondensedSemiBold returns the bold face of map labels and tables.
func CondensedSemiBold() []byte { return condensedSemiBold }

// SerifSemiBold returns the face of headings.
func SerifSemiBold() []byte { return serifSemiBold }
