package assay

import "math"

// Keys of the methods the program starts with.
const (
	MethodSoil100 = "sieve_crush_100cm3"
	MethodSoil250 = "sieve_crush_250cm3"
)

// DefaultMethod is sieving, crushing the cysts, and looking at 2 mL of the
// 100 mL that the eggs of 100 cm³ of soil are brought up to, not corrected for
// recovery. Soil and suspension follow the published hand method (ISU, MU lab
// pages); the 2 mL are the usual slide, common practice with no source.
func DefaultMethod() Method { return NewMethod(MethodSoil100, 100, 100, 2) }

// PresetMethods lists the methods the program starts with, DefaultMethod first.
func PresetMethods() []Method {
	return []Method{DefaultMethod(), NewMethod(MethodSoil250, 250, 100, 2)}
}

// Keys of the schemes the program starts with.
const (
	SchemeISUSoybeanNext    = "isu_2008_soybean_next"
	SchemeISUSoybeanNotNext = "isu_2008_soybean_not_next"
	SchemeMinnesota         = "minnesota_seed_table"
	SchemeOhio              = "ohio_2015_34"
	SchemeMissouri          = "missouri_fall_cup"
)

// DefaultScheme is the scheme of a program that has not picked one: ISU 2008,
// soybean next, with HouseTrace. Which scheme a state stands by is for its
// specialists to say.
func DefaultScheme() Scheme { return isuSoybeanNext() }

// Presets lists the schemes the program starts with, DefaultScheme first. Each
// call makes them anew, so nobody can change them for the rest.
func Presets() []Scheme {
	return []Scheme{isuSoybeanNext(), isuSoybeanNotNext(), minnesota(), ohio(), missouri()}
}

// Preset finds a scheme the program starts with by its key.
func Preset(key string) (Scheme, bool) {
	for _, s := range Presets() {
		if s.Key == key {
			return s, true
		}
	}
	return Scheme{}, false
}

// cut is a found class that ends at upper.
type cut struct {
	name  string
	upper Density
}

// last is the found class without an upper end.
func last(name string) cut { return cut{name, Density(math.Inf(1))} }

// preset puts none and unconfirmed before the found classes of a source. The
// sources name no recovery, so their cut points are taken to be on counts that
// were not corrected, by any amount of soil; a method that corrects needs a
// name of its own.
func preset(key, title, source string, cuts ...cut) Scheme {
	s := Scheme{
		Key: key, Version: 1, Title: title, Source: source,
		Trace:   HouseTrace,
		Methods: []string{MethodSoil100, MethodSoil250},
		Classes: []Class{
			{Rank: 0, Name: "none", Upper: 0, Kind: None},
			{Rank: 1, Name: "unconfirmed", Upper: HouseTrace, Kind: Unconfirmed},
		},
	}
	for _, c := range cuts {
		s.Classes = append(s.Classes, Class{Rank: len(s.Classes), Name: c.name, Upper: c.upper, Kind: Found})
	}
	return s
}

// isuSoybeanNext: none 0, low 1-2,000, moderate 2,001-12,000, high over 12,000.
// Whole numbers, so closed on the right as printed. No trace limit of its own:
// HouseTrace.
func isuSoybeanNext() Scheme {
	return preset(SchemeISUSoybeanNext,
		"Iowa State University 2008, soybean next",
		"Iowa State University Plant and Insect Diagnostic Clinic, SCN Management Recommendations, IPM 63, revised April 2008, column for soybean as the next crop",
		cut{"low", 2000}, cut{"moderate", 12000}, last("high"))
}

// isuSoybeanNotNext: none 0, low 1-4,000, moderate 4,001-16,000, high over
// 16,000. A year of another crop brings the count down first, hence the higher
// cuts. Edges and trace as isuSoybeanNext.
func isuSoybeanNotNext() Scheme {
	return preset(SchemeISUSoybeanNotNext,
		"Iowa State University 2008, another crop next",
		"Iowa State University Plant and Insect Diagnostic Clinic, SCN Management Recommendations, IPM 63, revised April 2008, column for another crop as the next crop",
		cut{"low", 4000}, cut{"moderate", 16000}, last("high"))
}

// minnesota: 0-200 very low, 201-2,000 low to moderate, 2,001-10,000 moderate
// to high, over 10,000 very high. Whole numbers, closed on the right. Its very
// low ends where HouseTrace does: without a cyst such a density is unconfirmed,
// and very low is for the bags in which one was seen. (A later text of the same
// university writes "<200" and "201-2000", which leaves 200 itself out.)
func minnesota() Scheme {
	return preset(SchemeMinnesota,
		"Minnesota seed guide table",
		"Minnesota Soybean with University of Minnesota guidance, The right soybeans seed for your farm, Table 1, undated",
		cut{"very_low", 200}, cut{"low_to_moderate", 2000}, cut{"moderate_to_high", 10000}, last("very_high"))
}

// ohio: 0-40 not detected, 40-200 trace, 200-2,000 low, 2,000-5,000 moderate,
// 5,000 and up high. The source puts each edge in two rows; here all are closed
// on the right, so 200 is trace and 2,000 low.
//
// Its trace row is what this program calls unconfirmed, so Trace is the row's
// upper end, 200 (here the source's own number), and the row stays as a found
// class for bags in which a cyst was seen: the source's cyst column has one
// cyst in that row. Its not-detected row runs to 40, perhaps what one egg stands for in
// its lab (a guess of ours); eggs that were seen are unconfirmed here however
// few, and none means nothing seen.
func ohio() Scheme {
	return preset(SchemeOhio,
		"Ohio State University 2015",
		"A. Dorrance, Sampling for SCN, Ohio State University Extension, C.O.R.N. Newsletter 2015-34",
		cut{"trace", 200}, cut{"low", 2000}, cut{"moderate", 5000}, last("high"))
}

// missouri, per cup of 250 cm³: under 500 low, 500-10,000 moderate, over 10,000
// high; within moderate, over 2,000 means a loss even with a resistant variety,
// which is drawn as a class of its own here. The source has 500 itself in
// moderate; here it is in low, as every preset is closed on the right. Its low
// ends at HouseTrace, so that only a cyst seen leads to it.
func missouri() Scheme {
	return preset(SchemeMissouri,
		"University of Missouri, fall sample",
		"University of Missouri Soil and Plant Testing Laboratory, SCN egg count recommendations (fall sample, per 250 cm³; here per 100 cm³)",
		cut{"low", 500 * 100 / 250}, cut{"moderate", 2000 * 100 / 250}, cut{"upper_moderate", 10000 * 100 / 250}, last("high"))
}
