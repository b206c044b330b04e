// Package edge says what released figures are worth where no eggs were found,
// and where finds meet none found.
//
// Everything here is a function of public figures alone: places with their
// middles and neighbors, and tranches as [Look]s. There is no sample in this
// package and no way to get one.
//
// # What it offers
//
//   - [WorthOf]: if one field in ten of a place had it, how likely the bags that
//     came out clean would all have missed it, and how many more bags would
//     bring that under one in twenty.
//   - [Stand]: what a place's figures amount to, in six words.
//   - [Fit]: a [Surface], the chance of finds of the next bag from every place,
//     with its band: see [Surface.Chance], [Chance.FirstFind]. It leans on the
//     neighbors and on how hard each place was looked at.
//   - [Surface.Front]: which way the finds move, and how fast.
//   - [Windows]: between which falls it was first found in each place.
//
// # The surface
//
// The bags with finds among those that are sure either way, y of n in a look of
// the fall t at place i, are taken as binomial with
//
//	logit θ(i,t) = u(i) + δ(i) (t - t0)
//
// u and δ are two intrinsic conditional autoregressions over places that share
// a boundary (Besag, York and Mollié 1991, Ann. Inst. Stat. Math. 43:1-20; the
// trend of each place after Bernardinelli and others 1995, Stat. Med.
// 14:2433-2443), which go together: where it has long been, the chance rises
// less (Mardia 1988, J. Multivar. Anal. 24:265-284; all from memory). A place that was hardly looked at leans on
// its neighbors, one with many bags stands for itself, and its band says which
// of the two it is. A logistic rise over the years is what spread by contact
// gives where clean fields run out (common practice in plant disease
// epidemics). A look at joined townships is of the mean of their chances. A
// remainder ("rest of the county") says too little of where it is from and is
// left out.
//
// Bags of one farm are no independent looks. The variance of a look is that of
// a binomial times a factor, which is estimated from the looks themselves
// (Pearson's statistic over its degrees of freedom; McCullagh and Nelder 1989)
// and is never under Options.Alike.
//
// How much neighbors tell of each other, in level and in trend, and how the two
// go together, is not chosen by hand: it is where Laplace's approximation of the likelihood of all looks is
// largest (empirical Bayes; Tierney and Kadane 1986, J. Am. Stat. Assoc.
// 81:82-86, from memory). The bands take it as known, which makes them a little
// too narrow; cmd/measure says by how much.
//
// # What must be said with it
//
// Volunteers choose themselves and their fields. The chance is that of the next
// bag that somebody like them would send in, not the share of a place's fields.
// "None found" never means free of it.
package edge
