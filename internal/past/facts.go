package past

import "strconv"

// Fact is a line of a verdict, without words: the key of its name under
// past.verdict, and either a number or a sentence of figures.
type Fact struct {
	Key    string
	N      int
	Phrase string // a sentence under past.verdict instead of the number; empty for none
	Args   []any
}

// Sayer is a language.
type Sayer interface {
	Say(key string, args ...any) string
	Number(n int) string
}

// Say writes the figures.
func (f Fact) Say(l Sayer) string {
	if f.Phrase == "" {
		return l.Number(f.N)
	}
	return l.Say("past.verdict."+f.Phrase, f.Args...)
}

// Facts lists what a verdict says, in its order; what is zero is left out, but for
// the rows.
func Facts(v Verdict) []Fact {
	out := []Fact{{Key: "rows", N: v.Rows}, {Key: "bad", N: v.BadRows}}
	add := func(when bool, f Fact) {
		if when {
			out = append(out, f)
		}
	}
	add(v.Last > 0, Fact{Key: "falls", Phrase: "falls.range", Args: []any{"first", strconv.Itoa(v.First), "last", strconv.Itoa(v.Last)}})
	add(v.Townships > 0, Fact{Key: "townships", N: v.Townships})
	add(v.CountyOnly > 0, Fact{Key: "county", N: v.CountyOnly})
	add(v.Grouped > 0, Fact{Key: "grouped", Phrase: "grouped.of", Args: []any{"n", v.Grouped, "farms", v.Farms}})
	add(len(v.Kept) > v.Grouped, Fact{Key: "loose", N: len(v.Kept) - v.Grouped})
	add(v.ClassOnly > 0, Fact{Key: "class", N: v.ClassOnly})
	add(v.Unknown > 0 && v.Strange == 0, Fact{Key: "unknown", N: v.Unknown})
	add(v.Unknown > 0 && v.Strange > 0, Fact{Key: "unknown", Phrase: "unknown.strange", Args: []any{"n", v.Unknown, "strange", v.Strange}})
	add(len(v.Kept) > 0, Fact{Key: "found", Phrase: "found.of", Args: []any{"found", v.Found, "unconfirmed", v.Unconfirmed, "none", v.None}})
	return out
}
