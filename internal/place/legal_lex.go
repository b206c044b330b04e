package place

import (
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// sort is what a token of a legal description is.
type sort uint8

const (
	aNumber   sort = iota // 21, or 58.5
	aFraction             // 1/4, 1/2, 3/4
	anOrdinal             // 5th, fifth
	aMeridian             // a named one
	townshipMark
	rangeMark
	sectionMark
	sectionsMark
	lotMark
	aSide    // N, S, E, W; a lone S may also mark a section
	aQuarter // NE, NW, SE, SW
	noQuarter
	halfWord
	quarterWord
	meridianWord // PM, principal, meridian
	joint        // and
	filler       // of, the, in, number
)

// gap is what stands between a token and the one before it.
type gap uint8

const (
	glued gap = iota // nothing
	dotted
	spaced
	dashed
	slashed
	parted // , ; : and brackets
)

type token struct {
	sort  sort
	n     int // a number's quarters, a fraction's quarters, an ordinal, a meridian, a side's letter
	gap   gap
	exact bool // a number without a decimal point
	long  bool // more digits than any number here has
}

// legalWords are the words of legal descriptions. Those people use for a side
// alone are told apart later by where they stand.
var legalWords = map[string]token{}

func init() {
	for sort, words := range map[sort]string{
		townshipMark: "t tp twp twsp twnshp twnp township town tnshp", rangeMark: "r rg rge rng range",
		sectionMark: "sec sect section sctn", sectionsMark: "secs sections",
		lotMark:  "lot lots govt government gl glo gov",
		halfWord: "half halves hlf", quarterWord: "quarter quarters qtr qtrs quar qr",
		meridianWord: "pm prin principal meridian meridan merid mer", joint: "and", filler: "of the in no number lying at base line",
		noQuarter: "nn ss ee ww ns sn ew we en wn es ws",
	} {
		for _, w := range strings.Fields(words) {
			legalWords[w] = token{sort: sort}
		}
	}
	for side, words := range map[Side]string{North: "n north nth", South: "s south so sth", East: "e east", West: "w west"} {
		for _, w := range strings.Fields(words) {
			legalWords[w] = token{sort: aSide, n: int(side)}
		}
	}
	for _, w := range strings.Fields("ne nw se sw northeast northwest southeast southwest") {
		legalWords[w] = token{sort: aQuarter}
	}
	for n, w := range strings.Fields("first second third fourth fifth sixth") {
		legalWords[w] = token{sort: anOrdinal, n: n + 1}
	}
}

// lexer walks a text that has been brought to lower case and plain letters.
type lexer struct {
	s      string
	at     int
	gap    gap
	tokens []token
}

// lex cuts a text into tokens; false if there is anything in it that legal
// descriptions do not have.
func lex(text string) ([]token, bool) {
	// The vulgar fractions first: the compatibility form of "21½" would read 211/2.
	text = strings.NewReplacer("½", "\x02", "¼", "\x01", "¾", "\x03", "’", "", "'", "", "`", "").Replace(text)
	text = strings.Join(strings.Fields(norm.NFKC.String(text)), " ")
	l := &lexer{s: strings.ToLower(text), gap: spaced}
	for l.at < len(l.s) {
		c := l.s[l.at]
		ok := true
		switch {
		case c >= 1 && c <= 3:
			l.add(token{sort: aFraction, n: int(c)}, 1)
		case '0' <= c && c <= '9':
			ok = l.number()
		case 'a' <= c && c <= 'z':
			ok = l.word()
		default:
			ok = l.mark()
		}
		if !ok {
			return nil, false
		}
	}
	return l.tokens, true
}

// add takes a token of so many bytes.
func (l *lexer) add(t token, bytes int) {
	t.gap = l.gap
	l.tokens = append(l.tokens, t)
	l.at += bytes
	l.gap = glued
}

// mark passes over what stands between tokens.
func (l *lexer) mark() bool {
	for _, m := range []struct {
		runes string
		gap   gap
	}{
		{". ", 0}, {"-–—‐‑−_", dashed}, {"/⁄\\", slashed}, {",;:()[]{}\"“”#|•·", parted},
	} {
		for _, r := range m.runes {
			if !strings.HasPrefix(l.s[l.at:], string(r)) {
				continue
			}
			g := m.gap
			switch r {
			case '.':
				g = dotted
			case ' ':
				g = spaced
			}
			l.gap = max(l.gap, g)
			l.at += len(string(r))
			return true
		}
	}
	switch {
	case l.s[l.at] == '&':
		l.gap = max(l.gap, spaced)
		l.add(token{sort: joint}, 1)
	case strings.HasPrefix(l.s[l.at:], "§"):
		l.add(token{sort: sectionMark}, len("§"))
	default:
		return false
	}
	return true
}

// number takes a number, a fraction such as 1/2, or an ordinal such as 5th.
func (l *lexer) number() bool {
	n := digitsOf(l.s[l.at:])
	rest := l.s[l.at+n:]
	for i, f := range []string{"1/4", "1/2", "3/4"} {
		for _, slash := range []string{"/", "⁄"} {
			f := strings.Replace(f, "/", slash, 1)
			if strings.HasPrefix(l.s[l.at:], f) && digitsOf(l.s[l.at+len(f):]) == 0 {
				l.add(token{sort: aFraction, n: i + 1}, len(f))
				return true
			}
		}
	}
	digits := strings.TrimLeft(l.s[l.at:l.at+n], "0")
	t := token{sort: aNumber, exact: true}
	if len(digits) > 4 {
		t.long = true
	} else if digits != "" {
		v, err := strconv.Atoi(digits)
		if err != nil {
			return false
		}
		t.n = 4 * v
	}
	if decimals := digitsOf(strings.TrimPrefix(rest, ".")); rest != "" && rest[0] == '.' && decimals > 0 {
		q, ok := map[string]int{"": 0, "25": 1, "5": 2, "75": 3}[strings.TrimRight(rest[1:1+decimals], "0")]
		t.n, t.exact, t.long = t.n+q, false, t.long || !ok
		l.add(t, n+1+decimals)
		return true
	}
	for _, suffix := range []string{"st", "nd", "rd", "th"} {
		if strings.HasPrefix(rest, suffix) && lettersOf(rest) == 2 {
			l.add(token{sort: anOrdinal, n: t.n / 4}, n+2)
			return true
		}
	}
	l.add(t, n)
	return true
}

// word takes a run of letters: one word, or several run together.
func (l *lexer) word() bool {
	for phrase, m := range meridianPhrases {
		if m > 6 && strings.HasPrefix(l.s[l.at:], phrase) && lettersOf(l.s[l.at+len(phrase):]) == 0 {
			l.add(token{sort: aMeridian, n: int(m)}, len(phrase))
			return true
		}
	}
	for _, pm := range []string{"p.m.", "p.m", "p. m.", "p m"} {
		if strings.HasPrefix(l.s[l.at:], pm) && lettersOf(l.s[l.at+len(pm):]) == 0 {
			l.add(token{sort: meridianWord}, len(pm))
			return true
		}
	}
	n := lettersOf(l.s[l.at:])
	words := runTogether(l.s[l.at:l.at+n], l.gap == glued && len(l.tokens) > 0 && l.tokens[len(l.tokens)-1].sort <= aFraction)
	for _, w := range words {
		l.add(legalWords[w], len(w))
	}
	return words != nil
}

// runTogether cuts letters without a space into words: "nr" of T21NR8E, "senw"
// of quarters. Nil if there is no way, or more than one, to do it.
func runTogether(run string, afterNumber bool) []string {
	if t, ok := legalWords[run]; ok && !(afterNumber && t.sort == noQuarter) {
		return []string{run}
	}
	var found []string
	if afterNumber && strings.IndexByte("nsew", run[0]) >= 0 {
		found = join(run[:1], run[1:])
	}
	if len(run) > 2 && legalWords[run[:2]].sort == aQuarter {
		if quarters := join(run[:2], run[2:]); found == nil {
			found = quarters
		} else if quarters != nil {
			return nil
		}
	}
	return found
}

func join(word, rest string) []string {
	words := runTogether(rest, false)
	if words == nil || legalWords[words[0]].sort == noQuarter {
		return nil
	}
	return append([]string{word}, words...)
}

func digitsOf(s string) int {
	n := 0
	for n < len(s) && '0' <= s[n] && s[n] <= '9' {
		n++
	}
	return n
}

func lettersOf(s string) int {
	n := 0
	for n < len(s) && 'a' <= s[n] && s[n] <= 'z' {
		n++
	}
	return n
}
