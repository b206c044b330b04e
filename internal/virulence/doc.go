// Package virulence reads a test on indicator lines: which of the sources of
// resistance the nematodes of one soil reproduce on.
//
// A population is put on a susceptible check and on up to seven indicator
// lines, several pots each; after about thirty days the females on the roots
// are counted. The female index of a line is
//
//	FI = 100 x mean females a pot on the line / mean females a pot on the check
//
// The HG type is the numbers of the lines with a female index of 10 or more,
// joined by points (Niblack et al. 2002, J. Nematol. 34:279-288, a title read
// and the rest from memory; lines and rule as in the University of Minnesota
// Extension's table).
//
// # At exactly ten
//
// Published texts differ: the Minnesota table and Michigan State have "10 or
// more", the prose around the same table "more than 10". Here it is 10 or more,
// and whole females are compared, so that no rounding decides.
//
// # Lines that were not tested
//
// are unknown, never "-". A type of a subset carries the lines it is of.
//
// # Error
//
// Pots differ. An index carries its delta-method error and Fieller's limits
// (stat.RatioOfMeans); whether a line is 10 or more is only as sure as those.
//
// A result is about the population in one bag of soil on one day. It is no
// recommendation of a variety.
package virulence
