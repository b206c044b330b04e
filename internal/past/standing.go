package past

import (
	"sixmile/internal/edition"
	"sixmile/internal/place"
)

// Others is what waits or was released already in a county, of senders that are
// not of the file at hand.
type Others struct {
	Falls  map[int]bool // falls in which somebody is a sender
	Firsts map[int]bool // falls in which a farm of another file counts as sending for the first time
}

// Standings gives each row the standing by which rule 1 counts its sender
// (edition.Senders). Within one file farms are told apart: a farm's first fall in
// a place is FirstEver, later ones Earlier. (Where places are taken together the
// counting itself makes Earlier of a first that is none.) Beyond the file nobody says whether a
// farm is the same as another file's, or as one that sent in a form, so
// counting them as different must be safe without that. In a county:
//
//   - in a fall in which others send, a farm of the file may be one of them:
//     Already, which never adds;
//   - before a fall in which a farm of another file counts as sending for the
//     first time, it may be that farm: Already;
//   - after a fall in which others send, it may have sent then: Earlier, not
//     FirstEver.
//
// What a grower says in a form, "first bags ever from this farm", may leave out
// what the farm sent elsewhere long ago. So while past results of farms wait in a
// county, a form of a later fall there is not taken for a farm's first but for
// Lowered: the store sees to that, for forms before the file and after it.
func Standings(rows []Kept, others map[place.ID]Others) []edition.Standing {
	type there struct {
		farm int
		at   place.ID
	}
	first := map[there]int{}
	for _, k := range rows {
		at := there{k.Farm, k.Place}
		if s, known := first[at]; k.Farm != 0 && (!known || k.Season < s) {
			first[at] = k.Season
		}
	}
	out := make([]edition.Standing, len(rows))
	for i, k := range rows {
		if k.Farm != 0 {
			out[i] = standing(k.Season, first[there{k.Farm, k.Place}] == k.Season, others[k.County])
		}
	}
	return out
}

func standing(season int, first bool, o Others) edition.Standing {
	for s := range o.Firsts {
		if s > season {
			return edition.Already
		}
	}
	if o.Falls[season] {
		return edition.Already
	}
	for s := range o.Falls {
		if s < season {
			return edition.Earlier
		}
	}
	if first {
		return edition.FirstEver
	}
	return edition.Earlier
}

// Lowered is what the store makes of a form's FirstEver where past results of an
// earlier fall wait in the county.
const Lowered = edition.Earlier
