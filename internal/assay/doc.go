// Package assay turns what a lab sees into what a map shows: eggs on a slide
// into a density, and a density into a class.
//
//	count --Method--> Reading (density, limits) --Scheme--> Class
//
// A density is in eggs per 100 cm³ of soil. It is
//
//	(eggs counted / mL looked at) x suspension mL x (100 / soil cm³) / recovery
//
// where recovery, the share of the eggs in the soil that reach the suspension,
// is 1 unless the method says otherwise: published cut points are mostly on
// counts that were not corrected.
//
// # How far a density can be trusted
//
// Two things stand between the bag and the figure. The slide shows only part
// of the suspension: a reading's limits are the exact Poisson limits of the
// eggs seen (Garwood 1936), scaled, or negative binomial ones where two or more
// aliquots differ more than a well-stirred suspension lets them. And eggs lie
// in the soil in cysts, so that a scoop may hold no cyst at all although the
// bag has some: Method.MissChance counts both, the limits of a reading only the
// first.
//
// Scheme.Range and Scheme.Chances carry the limits over to the class,
// Scheme.Recount says which counts another look is worth most for, Compare and
// Chart watch over the lab itself by its duplicates and check samples.
//
// # When eggs are not yet a find
//
// Eggs of other cyst nematodes look alike. A positive of one to four eggs seen,
// or at or under the scheme's trace limit, is unconfirmed unless a cyst was
// seen; Scheme.Class gives the whole rule.
//
// Nothing here is advice. Schemes are local guidance with a source; an office
// picks the one its state stands by.
package assay
