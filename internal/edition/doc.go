// Package edition turns waiting results into tranches and tranches into
// figures. It is the only maker of anything the public may see, and it is
// pure: the same input gives the same edition on any machine.
//
// # The promise
//
// A result becomes public only as a part of a tranche: the results of at least
// k senders from one place, released together, once, for ever. Every public
// figure is a sum of whole tranches, so nobody can subtract their way to fewer
// than k senders. The parts of the promise and where they are kept:
//
//   - Who counts as a sender: Senders (rule 1). Two sender numbers count as
//     two only where they surely belong to different farms.
//   - Class-blind: Pending, which Gather sees, holds no count and no class
//     (rule 2). What was found cannot decide whether it is shown.
//   - Township, district, remainder: Gather (rule 3).
//   - Dominance: Balanced (rule 4).
//   - Once, and editions apart: Gather and Rules.NextDay (rule 5).
//   - Three levels only for small tranches: Plan.Count (rule 7).
//   - Recall: Plan.Rejoin and Amend (rule 6). A recalled tranche is blank at
//     once, whole; it comes out again within a new one of its place, or by an
//     erratum, and neither way does one result make the difference.
//   - Another level table: Restate (rule 7), and Shown, which sorts out what
//     stands on the map of an edition.
//   - Fall figures: FallFigures (rule 8), the one figure that also covers
//     results still waiting.
//
// # What a reader of all editions can work out
//
// Corrections alone change nothing that is public: an edition stays as it was
// counted, restatements and fall figures of later editions use the results that
// were published. So a reader sees that a group was taken back, and later what it
// became, and the difference is k senders' results at the least.
//
// Once a season is unlinked (package postgres) the senders of its released
// results are not known any more. A recalled tranche of it can still come out
// again with new results; an erratum cannot be shown to be of k senders.
//
// A district tranche says "somewhere in these townships". Its results cannot
// come from a township that an own tranche emptied later than they were sent
// in, so a district tranche needs MinBlankTownships that never had a tranche
// of their own, and a remainder needs MinOpenTownships in MinOpenDistricts
// that no published tranche has emptied. A tranche is published as "k or more
// senders": the exact number would sometimes tell how many senders a blank
// township has. Its window is a function of the edition and the kind of
// tranche, apart from the one word "this fall", and never of a single result.
package edition
