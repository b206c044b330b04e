package place

// What lies within a township: sections, lots, halves and quarters. They are read
// so that a slip in them is told, and dropped.

// Tiers is the number of rows, and of columns, of sections in a township
// (43 U.S.C. 751).
const Tiers = 6

// sectionNumber takes one number and checks it.
func (r *reader) sectionNumber() Fault {
	t := r.peek(0)
	r.at++
	if t.long || !t.exact || t.n < int(Whole(1)) || t.n > int(Whole(Tiers*Tiers)) {
		return BadSection
	}
	r.section = true
	return ""
}

// sections takes what stands behind the mark of a section: one number, with
// "and" more of them, and in a plural every number in a list.
func (r *reader) sections(plural bool) Fault {
	r.at++
	r.skipFillers()
	if r.peek(0).sort != aNumber {
		return BadSection
	}
	if fault := r.sectionNumber(); fault != "" {
		return fault
	}
	for {
		next := r.peek(0)
		switch {
		case next.sort == joint && r.peek(1).sort == aNumber && r.peek(2).sort != aSide:
			r.at++
		case plural && next.sort == aNumber && next.gap >= dashed && r.peek(1).sort != aSide:
		default:
			return ""
		}
		if fault := r.sectionNumber(); fault != "" {
			return fault
		}
	}
}

// maxLot is more government lots than a section can have.
const maxLot = 99

// lots takes the numbers of government lots.
func (r *reader) lots() Fault {
	for r.peek(0).sort == lotMark {
		r.at++
	}
	r.skipFillers()
	for first := true; ; first = false {
		if t := r.peek(0); t.sort == joint || !first && t.sort == aNumber && t.gap == parted && r.peek(1).sort != aSide {
			if t.sort == joint {
				r.at++
			}
		} else if !first {
			return ""
		}
		t := r.peek(0)
		if t.sort != aNumber || t.long || !t.exact || t.n < int(Whole(1)) || t.n > int(Whole(maxLot)) {
			return BadLot
		}
		r.at++
		r.quarter = true
	}
}

// half takes a side that belongs to no number before it: half of something
// (N½, E2, south half), the letters of a quarter written apart (N.E.), or S for
// a section.
func (r *reader) half() Fault {
	t, next := r.peek(0), r.peek(1)
	side := Side(t.n)
	switch {
	case next.sort == aSide && next.gap <= dotted && (side == North || side == South) &&
		(Side(next.n) == East || Side(next.n) == West):
		r.at++
		return r.quarterPart()
	case next.sort == halfWord, next.sort == aFraction && next.n == 2:
		r.at += 2
		if r.peek(0).sort == halfWord {
			r.at++
		}
		r.quarter = true
		return ""
	case next.sort == aFraction || next.sort == quarterWord:
		return BadQuarter // there is a NE quarter, but no N one
	case next.sort == aNumber && next.n == eastTwo && next.exact && (next.gap == glued || next.gap == slashed):
		// E2 is a half; S2 may be section 2 as well, and both are dropped.
		r.at += 2
		if side == South {
			r.southTwo = true
		} else {
			r.quarter = true
		}
		return ""
	case side == South && next.sort == aNumber:
		return r.sections(false)
	}
	return Unclear
}

// quarterPart takes NE, NE¼, NE4 or northeast quarter.
func (r *reader) quarterPart() Fault {
	r.at++
	r.quarter = true
	for r.peek(0).sort == filler && r.peek(1).sort == quarterWord {
		r.at++
	}
	switch t := r.peek(0); {
	case t.sort == aFraction && t.n != 1, t.sort == halfWord:
		return BadQuarter // NE½
	case t.sort == aFraction, t.sort == quarterWord, t.sort == aNumber && t.n == int(Whole(4)) && (t.gap == glued || t.gap == slashed):
		r.at++
		if r.peek(0).sort == quarterWord {
			r.at++
		}
	}
	return ""
}
