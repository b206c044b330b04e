package place

// reader takes a description's tokens apart. Its fields for a section or a
// quarter are only whether one was seen: the numbers are checked where they
// stand and kept nowhere.
type reader struct {
	tokens []token
	at     int

	s                 Survey
	township, ranged  bool // a township, a range was told by a mark or a direction
	section, quarter  bool
	southTwo          bool // S2 was seen: a half or a section
	bare              []bare
	townshipAt, rngAt int // where they stood among the tokens
}

// bare is a number of which only its place tells what it is.
type bare struct {
	at    int
	n     int
	exact bool // without a fraction
}

// read walks all tokens.
func (r *reader) read() Fault {
	for r.at < len(r.tokens) {
		fault := Fault("")
		switch t := r.tokens[r.at]; t.sort {
		case townshipMark:
			fault = r.marked(true)
		case rangeMark:
			fault = r.marked(false)
		case sectionMark, sectionsMark:
			fault = r.sections(t.sort == sectionsMark)
		case lotMark:
			fault = r.lots()
		case aSide:
			fault = r.half()
		case aQuarter:
			fault = r.quarterPart()
		case noQuarter:
			fault = BadQuarter
		case anOrdinal:
			r.at++
			if fault = BadMeridian; t.n <= 6 {
				fault = r.meridian(t.n)
			}
		case aMeridian:
			r.at++
			fault = r.meridian(t.n)
		case aNumber:
			fault = r.number()
		case aFraction, halfWord, quarterWord:
			fault = Unclear // of nothing
		default:
			r.at++
		}
		if fault != "" {
			return fault
		}
	}
	return ""
}

// peek is the token i places on; a filler if there is none.
func (r *reader) peek(i int) token {
	if r.at+i < len(r.tokens) {
		return r.tokens[r.at+i]
	}
	return token{sort: filler, gap: parted}
}

func (r *reader) skipFillers() {
	for r.at < len(r.tokens) && r.tokens[r.at].sort == filler {
		r.at++
	}
}

// tier takes a number with its fraction.
func (r *reader) tier() (n int, exact bool) {
	t := r.peek(0)
	r.at++
	if t.long {
		return 4 * (maxTier + 1), t.exact
	}
	f := r.peek(0)
	if f.sort == aFraction && t.exact && (f.gap == glued || f.gap == spaced || f.gap == dashed) {
		r.at++
		return t.n + f.n, false
	}
	return t.n, t.exact
}

// marked takes the number and the direction behind a T or an R.
func (r *reader) marked(township bool) Fault {
	at := r.at
	r.at++
	r.skipFillers()
	if r.peek(0).sort != aNumber {
		return NotLegal
	}
	n, _ := r.tier()
	if t := r.peek(0); t.sort == aQuarter && t.gap == glued {
		return Unclear // R8SE
	}
	side := NotSaid
	if t := r.peek(0); t.sort == aSide {
		upright := Side(t.n) == North || Side(t.n) == South
		mine, fault := r.sideIsMine(upright == township)
		switch {
		case fault != "":
			return fault
		case mine && upright != township:
			return WrongWay
		case mine:
			side = Side(t.n)
			r.at++
		}
	}
	return r.set(township, n, side, at)
}

// sideIsMine tells whether the side at hand belongs to the number before it,
// rather than beginning something: half of a section, or S for a section.
// right is whether the number could have such a side.
func (r *reader) sideIsMine(right bool) (bool, Fault) {
	t, next := r.peek(0), r.peek(1)
	switch {
	case next.sort == halfWord, next.sort == aFraction:
		if t.gap == glued {
			return true, "" // "R8E 1/2": the fraction is then of nothing
		}
		if next.gap == glued || t.gap == parted || !right {
			return false, ""
		}
		return false, Unclear // "R 8 E 1/2"
	case next.sort != aNumber || Side(t.n) == East || Side(t.n) == West || Side(t.n) == North:
		// A lone N, E or W can only be a direction, unless it is a half: "E2".
		half := next.sort == aNumber && next.n == eastTwo && next.gap == glued && t.gap != glued
		return !half, ""
	case !right || t.gap == parted:
		return false, "" // "R8 S12": a section
	case t.gap == glued && next.gap != glued:
		return true, "" // "21S 8"
	case next.gap == glued && t.gap != glued:
		return false, "" // "T21 S12"
	}
	// "21 S 8 W" and "21S8W" are a township and a range; where the range is told
	// elsewhere the number might be a section as well.
	after := r.peek(2)
	if after.sort == aFraction {
		after = r.peek(3)
	}
	if after.sort == aSide && (Side(after.n) == East || Side(after.n) == West) {
		return true, ""
	}
	if r.ranged || r.hasRangeMark() {
		return false, Unclear
	}
	return true, ""
}

// eastTwo is the number of "E2", the east half, in quarters.
const eastTwo = 8

func (r *reader) hasRangeMark() bool {
	for _, t := range r.tokens[r.at:] {
		if t.sort == rangeMark {
			return true
		}
	}
	return false
}

// set notes a township or a range.
func (r *reader) set(township bool, n int, side Side, at int) Fault {
	tier, own, said, where := &r.s.Range, &r.s.EastWest, &r.ranged, &r.rngAt
	bad := BadRange
	if township {
		tier, own, said, where = &r.s.Township, &r.s.NorthSouth, &r.township, &r.townshipAt
		bad = BadTownship
	}
	switch {
	case n < int(Whole(1)) || n > int(Whole(maxTier)):
		return bad
	case *said && (*tier != Tier(n) || *own != side && *own != NotSaid && side != NotSaid):
		return Twice
	}
	*tier, *said, *where = Tier(n), true, at
	if side != NotSaid {
		*own = side
	}
	return ""
}

// meridian notes one, and passes over the words behind it.
func (r *reader) meridian(n int) Fault {
	for r.peek(0).sort == meridianWord {
		r.at++
	}
	m := Meridian(n)
	switch {
	case n < 1 || n > 255 || !m.Known():
		return BadMeridian
	case r.s.Meridian != 0 && r.s.Meridian != m:
		return Twice
	}
	r.s.Meridian = m
	return ""
}

// number takes a number without a mark: a direction behind it tells what it
// is, or its place among the others will.
func (r *reader) number() Fault {
	at := r.at
	if r.peek(1).sort == meridianWord && r.peek(0).exact {
		n := r.peek(0).n / 4
		r.at++
		if n > 6 {
			return BadMeridian
		}
		return r.meridian(n)
	}
	n, exact := r.tier()
	side := r.peek(0)
	if side.sort == aSide {
		mine, fault := r.sideIsMine(true)
		if fault != "" {
			return fault
		}
		if mine {
			r.at++
			return r.set(Side(side.n) == North || Side(side.n) == South, n, Side(side.n), at)
		}
	}
	r.bare = append(r.bare, bare{at: at, n: n, exact: exact})
	return ""
}
