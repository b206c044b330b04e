package place

const (
	// Tiers is the number of rows, and of columns, of sections in a township.
	Tiers = 6

	// SectionAcres is the area of a section, "as nearly as may be".
	SectionAcres = 640
)

// SectionNumber is the number, 1 to 36, of the section in a row counted from
// the north and a column counted from the west, both from 0. Outside of the
// township it is 0.
//
// By 43 U.S.C. 751 numbering begins with the section in the northeast and runs
// west and east alternately through the township.
func SectionNumber(row, col int) int {
	if row < 0 || row >= Tiers || col < 0 || col >= Tiers {
		return 0
	}
	if row%2 == 0 {
		return row*Tiers + Tiers - col
	}
	return row*Tiers + col + 1
}

// SectionCell is where a section lies: its row from the north and its column
// from the west, both from 0. A number that is none of 1 to 36 gives -1, -1.
// Resurveyed townships with other numbers exist, so such a number on a form is
// a question, not proof of a mistake.
func SectionCell(n int) (row, col int) {
	if n < 1 || n > Tiers*Tiers {
		return -1, -1
	}
	row, col = (n-1)/Tiers, (n-1)%Tiers
	if row%2 == 0 {
		col = Tiers - 1 - col
	}
	return row, col
}
