package gazette

// Version says what the public pages are made from. Two equal versions give the
// same pages, but for the names of places and the reference layers.
type Version struct {
	Number    int // the newest edition that stands; 0 before the first
	Withdrawn int // how many editions are withdrawn, whichever
	Recalled  int // how many times a tranche was recalled, whichever
	// Offices is a digest of what the offices say of their bags, which is no
	// part of an edition and stands on its pages all the same.
	Offices string
}
