package gazette

// Listed is an edition in a list of all.
type Listed struct {
	Edition
	Scheme    string // title of its level table
	Withdrawn bool
	Recalled  int // groups that it published and that have been taken back
}

// Proof is an edition worked out again from what is pinned.
type Proof struct {
	Number          int
	Code            string
	Stored, Rebuilt [32]byte // digests of its canonical text
	Results         int      // that were counted again
	Wrong           []string // what differs: groups by edition and number
}

// OK says that the edition is the one that was released.
func (p Proof) OK() bool { return p.Stored == p.Rebuilt && len(p.Wrong) == 0 }
