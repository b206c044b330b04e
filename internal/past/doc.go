// Package past reads results of falls before the program had bags, from a file
// as an office has it. It keeps no more of a row than the program keeps of a
// bag: fall, place, figure, method.
//
//	Open ──► tabular.Sheet ──Guess──► tabular.Mapping
//	                └──Judge (with a Ground)──► Verdict: a fate for every row, and what would be kept
//
// # What goes
//
// A legal description loses its section where it is read (package place). A
// coordinate is asked of the Ground, a few hundred at a time, and is not in a
// Kept, which has no field for one. A date becomes its fall. What the file calls
// a farm becomes a number of this file, and in the store a random sender. The
// digest that tells a file again is of what is kept alone, so that nothing can be
// tried out against it.
//
// # Who counts as a sender
//
// Rows that the file says are one farm's are one sender. Rows without are
// nobody's: they never make a group, and go out with the rest of a county only
// (package edition). Standings says how far farms of different files, or of a
// file and the form, may count as different: toward fewer where it is not sure.
package past
