package place

// settle finds what the bare numbers are: sections come before townships,
// townships before ranges, and what is left when both are known is a section.
func (r *reader) settle() (Survey, Fault) {
	var fault Fault
	switch {
	case r.township && r.ranged:
		fault = r.settleRest(r.bare)
	case r.township:
		fault = r.settleRange()
	case r.ranged:
		fault = r.settleTownship()
	default:
		fault = r.settleAll()
	}
	if fault != "" {
		return Survey{}, fault
	}
	return r.s, ""
}

// settleRest takes bare numbers that can only be a section: one at most.
func (r *reader) settleRest(rest []bare) Fault {
	if len(rest) == 0 {
		return ""
	}
	if len(rest) > 1 || r.section {
		return Unclear
	}
	r.section = true
	if b := rest[0]; !b.exact || b.n < int(Whole(1)) || b.n > int(Whole(Tiers*Tiers)) {
		return BadSection
	}
	return ""
}

// settleRange finds the range among the numbers behind the township.
func (r *reader) settleRange() Fault {
	before, after := r.split(r.townshipAt)
	switch {
	case len(after) == 0:
		return NoRange
	case len(after) > 1:
		return Unclear
	}
	if fault := r.set(false, after[0].n, NotSaid, after[0].at); fault != "" {
		return fault
	}
	return r.settleRest(before)
}

// settleTownship finds the township among the numbers before the range.
func (r *reader) settleTownship() Fault {
	before, after := r.split(r.rngAt)
	if len(before) == 0 {
		return NoTownship
	}
	last := before[len(before)-1]
	if fault := r.set(true, last.n, NotSaid, last.at); fault != "" {
		return fault
	}
	return r.settleRest(append(before[:len(before)-1:len(before)-1], after...))
}

// settleAll reads numbers alone: township and range, or section, township and
// range, as common practice writes them.
func (r *reader) settleAll() Fault {
	for _, b := range r.bare {
		if !b.exact {
			return Coordinates // a half township is marked as one; 44.5 is a latitude
		}
	}
	n := len(r.bare)
	switch {
	case n <= 1 && (r.section || r.quarter || r.southTwo):
		return NoTownship
	case n < 2:
		return NotLegal
	case n > 3, n == 3 && r.section, n == 2 && r.quarter && !r.section:
		return Unclear
	}
	if fault := r.set(true, r.bare[n-2].n, NotSaid, r.bare[n-2].at); fault != "" {
		return fault
	}
	if fault := r.set(false, r.bare[n-1].n, NotSaid, r.bare[n-1].at); fault != "" {
		return fault
	}
	return r.settleRest(r.bare[:n-2])
}

// split parts the bare numbers at a token.
func (r *reader) split(at int) (before, after []bare) {
	for i, b := range r.bare {
		if b.at > at {
			return r.bare[:i], r.bare[i:]
		}
	}
	return r.bare, nil
}
