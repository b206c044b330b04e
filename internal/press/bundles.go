package press

// BundleSheet is a sealed bundle of bags, printed as one sheet: one row for each bag,
// with its code on the bag label, the slip, the stub and the cup.
type BundleSheet struct {
	Head string // first line of the sheet, such as the number of bags and the season
	Bags []Bag
}

// Bag is one bag of a bundle.
type Bag struct {
	Code string // as encoded, without spaces: K7QF2M9X
	URL  string // address of the form with the code; in the QR of label, slip and stub
}

// BagWords are the sentences on a bag sheet; all come from the catalog.
type BagWords struct {
	Lang               string // language of the sheet, such as "en"
	Title              string // document title
	Label, Slip        string // names of the four parts
	Stub, Cup          string
	LabelNote          string // what to do with each part
	SlipNote, StubNote string
	CupNote            string
	MyField            string // before the blank line on the stub
	Footer             string // cautions at the foot of the sheet
}
