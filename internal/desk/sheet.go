package desk

// SheetOrder is a county's published map with words of the office's own on it.
// What is not on a list of the map pages cannot be made (fault.ErrNotFound).
type SheetOrder struct {
	County string // its name in addresses
	Show   string // a measure
	Paper  string
	Look   string
	Kind   string // pdf or png
	// Title stands over the map in the place of the county's name, Footnote under
	// the source line; empty for none of one's own.
	Title, Footnote string
}

// SheetFile is a file to take along.
type SheetFile struct {
	Name, Kind string
	Body       []byte
}
