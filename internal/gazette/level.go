package gazette

import (
	"sixmile/internal/assay"
	"sixmile/internal/atlas"
	"sixmile/internal/edition"
)

// Level is the highest class of a sum of tranches.
type Level struct {
	// Rank is the class in the scheme, -1 where there are no figures.
	Rank int
	// Exact is false where finds whose class is not shown are among them: the
	// level is then the least it can be, "at least low".
	Exact bool
}

// noLevel is the level of a place without figures.
var noLevel = Level{Rank: -1, Exact: true}

// Known tells whether there are figures.
func (l Level) Known() bool { return l.Rank >= 0 }

// Class is the level's row of the scheme; false where there are no figures.
func (l Level) Class(s assay.Scheme) (assay.Class, bool) {
	if l.Rank < 0 || l.Rank >= len(s.Classes) {
		return assay.Class{}, false
	}
	return s.Classes[l.Rank], true
}

// Mark is what the map shows for a level. A level that is only the least it
// can be gets the mark of that level, never of a higher one: the map must not
// say more than is known. The "at least" stands in the mark's title and in the
// table.
func (l Level) Mark(s assay.Scheme) atlas.Mark {
	class, known := l.Class(s)
	if !known {
		return atlas.Mark{}
	}
	return MarkOf(s, class)
}

// MarkOf is the mark of one class: a found class has as many lines as its place
// among the found classes, lowest first.
func MarkOf(s assay.Scheme, c assay.Class) atlas.Mark {
	m := atlas.Mark{Of: len(s.Found())}
	switch c.Kind {
	case assay.None:
		m.Standing = atlas.NoneFound
	case assay.Unconfirmed:
		m.Standing = atlas.Unconfirmed
	case assay.Found:
		m.Standing = atlas.Found
		for _, other := range s.Found() {
			if other.Rank <= c.Rank {
				m.Lines++
			}
		}
	}
	return m
}

// Window says which falls a sum of tranches is from, and nothing finer.
type Window struct {
	// Only: every bag is of the fall Through. Otherwise some may be older.
	Only    bool
	Through int // 0 where there are no figures
}

func windowOf(tranches []edition.Tranche) Window {
	var w Window
	for i, t := range tranches {
		same := i == 0 || t.Window.Through == w.Through
		w.Only = t.Window.ThisFall && same && (i == 0 || w.Only)
		w.Through = max(w.Through, t.Window.Through)
	}
	return w
}

// oldestOf is the window of the oldest tranches: those gathered up to the
// earliest fall. Some of their bags may be older still; nothing finer is known.
func oldestOf(tranches []edition.Tranche) Window {
	var w Window
	for _, t := range tranches {
		switch {
		case w.Through == 0 || t.Window.Through < w.Through:
			w = Window{Only: t.Window.ThisFall, Through: t.Window.Through}
		case t.Window.Through == w.Through:
			w.Only = w.Only && t.Window.ThisFall
		}
	}
	return w
}

// Summary is a sum of whole tranches with what follows from it.
type Summary struct {
	edition.Figures
	Level  Level
	Window Window
}

// HasFigures tells whether any tranche is in the sum.
func (s Summary) HasFigures() bool { return s.Tranches > 0 }

func summarize(ranks edition.Ranks, tranches []edition.Tranche) (Summary, error) {
	f, err := edition.Sum(ranks, tranches...)
	if err != nil {
		return Summary{}, err
	}
	s := Summary{Figures: f, Level: noLevel, Window: windowOf(tranches)}
	if f.Samples > 0 {
		s.Level.Rank, s.Level.Exact = f.Highest()
	}
	return s, nil
}
