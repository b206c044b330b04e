package atlas

// rule says how furrows are drawn in a place of a given size.
type rule struct {
	pitch Unit // from line to line
	width Unit // of a line
	clear Unit // left free of edges above and below a line
}

// ruleFor fits the pitch and width of k furrows to the height they have. Of is
// the number of found classes: all places of a map share one pitch as far as
// their height allows, so that more lines also look like more.
func ruleFor(height Unit, k, of int) rule {
	pitch := min(height*15/100, height*82/100/Unit(max(of, 3)), 420)
	pitch = max(min(pitch, height/Unit(k+1)), 2)
	w := max(min(pitch*3/10, 90), min(28, pitch/2))
	return rule{pitch: pitch, width: max(w, 1), clear: max(w/2, 1) + min(25, pitch/4)}
}

// furrows rules k lines across a figure: level, evenly spaced, about the middle,
// each wholly inside the figure and clear of the boxes to avoid. They have side
// margins and equal ends where the figure allows it.
func (s *scanner) furrows(f *figure, k, of int, avoid []Box) ([]Segment, rule) {
	return s.rules(f, k, of, f.box.height(), avoid)
}

// rules is furrows for a figure that is ruled as if it had the given height.
// Where a label would leave one line a stub beside it, the lines move closer
// together until all have room; as a last resort the stub stays.
func (s *scanner) rules(f *figure, k, of int, height Unit, avoid []Box) ([]Segment, rule) {
	height = min(height, f.box.height())
	full := ruleFor(height, k, of).pitch
	var lines []Segment
	var chosen rule
	even := int64(-1)
	for ; height >= 8; height = height * 85 / 100 {
		r := ruleFor(height, k, of)
		if lines != nil && r.pitch*2 < full {
			break
		}
		try := s.place(f, k, r, avoid)
		if try == nil {
			continue
		}
		if e := evenness(try); e > even+4 {
			lines, chosen, even = try, r, e
		}
		if even >= 70 {
			break
		}
	}
	return lines, chosen
}

// evenness is the length of the shortest line in percent of the longest.
func evenness(lines []Segment) int64 {
	short, long := lines[0].length(), Unit(1)
	for _, l := range lines {
		short, long = min(short, l.length()), max(long, l.length())
	}
	return int64(short) * 100 / int64(long)
}

// length of a level segment.
func (l Segment) length() Unit { return l.B.X - l.A.X }

// place looks for the height at which the shortest of the k lines is longest,
// with a pull toward the middle; nil when some line would have no room anywhere.
func (s *scanner) place(f *figure, k int, r rule, avoid []Box) []Segment {
	const tries = 12
	half := r.pitch*Unit(k-1)/2 + r.clear
	lo, hi := f.box.Y0+half, f.box.Y1-half
	mid := f.box.center().Y
	if lo > hi {
		return nil
	}
	var best []span
	bestY, bestScore := Unit(0), int64(-1<<62)
	consider := func(y Unit) {
		spans := s.block(f, y, k, r, avoid)
		if spans == nil {
			return
		}
		short := spans[0].length()
		for _, sp := range spans {
			short = min(short, sp.length())
		}
		score := int64(short)*10 - int64(max(y-mid, mid-y))*9
		if score > bestScore {
			best, bestY, bestScore = spans, y, score
		}
	}
	consider(min(max(mid, lo), hi))
	for i := Unit(0); i <= tries; i++ {
		consider(lo + (hi-lo)*i/tries)
	}
	if best == nil {
		return nil
	}
	return trim(best, bestY, k, r)
}

// block finds the room of each of k lines around y, or nil if one has none.
func (s *scanner) block(f *figure, y Unit, k int, r rule, avoid []Box) []span {
	out := make([]span, k)
	top := y - r.pitch*Unit(k-1)/2
	// The middle line chooses the lobe of the figure; the others stay in it.
	order := append([]int{k / 2}, others(k, k/2)...)
	for n, i := range order {
		ly := top + r.pitch*Unit(i)
		room := less(s.gaps(f, ly-r.clear, ly+r.clear), ly-r.clear, ly+r.clear, avoid)
		var pick span
		if n == 0 {
			pick = longest(room)
		} else {
			for _, g := range room {
				if g.overlap(out[k/2]) > pick.overlap(out[k/2]) {
					pick = g
				}
			}
		}
		if pick.length() < max(r.pitch/2, 4) {
			return nil
		}
		out[i] = pick
	}
	return out
}

// others lists 0..k-1 without i.
func others(k, i int) []int {
	out := make([]int, 0, k)
	for j := range k {
		if j != i {
			out = append(out, j)
		}
	}
	return out
}

// trim gives the lines their side margins, and the same ends if what is common
// to all is most of each.
func trim(room []span, y Unit, k int, r rule) []Segment {
	common := room[0]
	for _, s := range room {
		common = span{max(common.a, s.a), min(common.b, s.b)}
	}
	alike := true
	for _, s := range room {
		alike = alike && common.length()*10 >= s.length()*7
	}
	out := make([]Segment, k)
	for i, s := range room {
		if alike {
			s = common
		}
		m := min(max(s.length()*12/100, min(30, s.length()/4)), 260)
		ly := y - r.pitch*Unit(k-1)/2 + r.pitch*Unit(i)
		out[i] = Segment{XY{s.a + m, ly}, XY{s.b - m, ly}}
	}
	return out
}

// broken makes the one broken line of an unconfirmed place: it begins and ends
// with a whole dash and has at least two, for which the line gives up a little at
// both ends.
func broken(l Segment, r rule) (Segment, []Unit) {
	n := max(1, l.length()/max(r.width*9/2, 2)) // gaps
	unit := max(1, l.length()/(n*5+3))          // a dash is three of them, a gap two
	dash, gap := 3*unit, 2*unit
	for n > 1 && (n+1)*dash+n*gap > l.length() {
		n--
	}
	spare := (l.length() - (n+1)*dash - n*gap) / (2*n + 1)
	dash, gap = max(1, dash+spare), max(1, gap+spare)
	rest := l.length() - (n+1)*dash - n*gap
	l.A.X += rest / 2
	l.B.X -= rest - rest/2
	return l, []Unit{dash, gap}
}

// stipple fills a figure with a fine lattice of dots, clear of its edges and of
// the boxes to avoid.
func (s *scanner) stipple(f *figure, avoid []Box) []Segment {
	const step, clear = 130, 45
	var out []Segment
	for row, y := 0, f.box.Y0+clear; y <= f.box.Y1-clear; row, y = row+1, y+step {
		room := less(s.gaps(f, y-clear, y+clear), y-clear, y+clear, avoid)
		for _, g := range room {
			first := g.a + clear
			shift := Unit(row%2) * step / 2
			x := Unit(floorDiv(int64(first-shift)+step-1, step))*step + shift
			for ; x <= g.b-clear; x += step {
				out = append(out, Segment{XY{x, y}, XY{x, y}})
			}
		}
	}
	return out
}

// spot finds the middle of the roomiest place for a box of w by h inside the
// figure, near its middle, clear of boxes and of other figures; ok is false if
// there is none.
func (s *scanner) spot(f *figure, w, h Unit, avoid []Box, masks ...*figure) (XY, bool) {
	const tries = 14
	c := f.box.center()
	best, score, ok := XY{}, int64(-1<<62), false
	lo, hi := f.box.Y0+h/2, f.box.Y1-h/2
	for i := Unit(-1); i <= tries && lo <= hi; i++ {
		y := min(max(c.Y, lo), hi)
		if i >= 0 {
			y = lo + (hi-lo)*i/tries
		}
		for _, g := range masked(less(s.gaps(f, y-h/2, y+h/2), y-h/2, y+h/2, avoid), y-h/2, y+h/2, masks) {
			if g.length() < w {
				continue
			}
			x := (g.a + g.b) / 2
			if g.a+w/2 <= c.X && c.X <= g.b-w/2 && g.length() < 3*w {
				x = (x + c.X) / 2
			}
			sc := int64(min(g.length(), 3*w))*4 - int64(max(y-c.Y, c.Y-y))*5
			if sc > score {
				best, score, ok = XY{x, y}, sc, true
			}
		}
	}
	return best, ok
}
