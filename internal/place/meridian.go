package place

import "strings"

// Meridian is a principal meridian of the public land surveys by its number in
// the national cadastral data; 0 where it is not said.
//
// The names are those of the table of meridians and base lines in the Bureau
// of Land Management's Manual of Surveying Instructions (read). The numbers
// are from memory: they matter only for reading township ids of that data.
type Meridian uint8

// meridianNames lists the numbered meridians by their ordinal words and the
// others by their names.
var meridianNames = map[Meridian]string{
	1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth",
	7: "Black Hills", 8: "Boise", 9: "Chickasaw", 10: "Choctaw", 11: "Cimarron", 12: "Copper River",
	13: "Fairbanks", 14: "Gila and Salt River", 15: "Humboldt", 16: "Huntsville", 17: "Indian", 18: "Louisiana",
	19: "Michigan", 20: "Montana", 21: "Mount Diablo", 22: "Navajo", 23: "New Mexico", 24: "Saint Helena",
	25: "Saint Stephens", 26: "Salt Lake", 27: "San Bernardino", 28: "Seward", 29: "Tallahassee", 30: "Uintah",
	31: "Ute", 32: "Washington", 33: "Willamette", 34: "Wind River",
}

// fourthExtended is the fourth principal meridian as carried north into
// Wisconsin and Minnesota; the national data number it apart from Illinois's.
const fourthExtended = 46

// Known tells whether m is a meridian of the table.
func (m Meridian) Known() bool { return meridianNames[m] != "" }

func (m Meridian) String() string {
	switch {
	case m == 0:
		return ""
	case m <= 6:
		return [...]string{"", "1st", "2nd", "3rd", "4th", "5th", "6th"}[m] + " principal meridian"
	}
	return meridianNames[m] + " meridian"
}

// meridianPhrases are the meridians' names as they stand in a lower-case text,
// longest first where one begins another.
var meridianPhrases = func() map[string]Meridian {
	out := map[string]Meridian{}
	for m, name := range meridianNames {
		name = strings.ToLower(name)
		out[name] = m
		if rest, saint := strings.CutPrefix(name, "saint "); saint {
			out["st "+rest] = m
			out["st. "+rest] = m
		}
		if rest, mount := strings.CutPrefix(name, "mount "); mount {
			out["mt "+rest] = m
			out["mt. "+rest] = m
		}
	}
	return out
}()
