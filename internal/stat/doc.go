// Package stat holds the intervals the program prints beside its figures:
// how far a share, a difference of two shares, a count or a ratio of means can
// be trusted.
//
// Every interval is two-sided at a stated confidence, with the same error
// probability allowed at each end. The functions take counts as whole
// numbers, because that is what is counted, and refuse what cannot have been
// counted with an error that matches ErrImpossible.
//
// # Sources
//
//   - Wilson, E. B. (1927), J. Am. Stat. Assoc. 22:209-212: score interval.
//   - Clopper, C. J. and Pearson, E. S. (1934), Biometrika 26:404-413: exact
//     binomial interval.
//   - Newcombe, R. G. (1998), Stat. Med. 17:873-890: difference of two
//     proportions, method 10.
//   - Garwood, F. (1936), Biometrika 28:437-442: exact Poisson interval.
//   - Fisher, R. A., Thornton, H. G. and Mackenzie, W. A. (1922), Ann. Appl.
//     Biol. 9:325-359: index of dispersion of replicate counts.
//   - Cochran, W. G. (1954), Biometrics 10:417-451: smallest expectations for
//     chi-square.
//   - Quenouille, M. H. (1949), Biometrics 5:162-164: logarithmic clumps at
//     random make a negative binomial count.
//   - Fieller, E. C. (1954), J. R. Stat. Soc. B 16:175-185: ratio of two means.
//   - Tamhane, A. C. and Logan, B. R. (2004), Biometrics 60: ratio of means of
//     groups that spread differently.
//   - Neyman, J. (1939), Ann. Math. Stat. 10:35-57: counts of things that come
//     in clusters, type A.
//
// Volumes and pages of the last six are from memory.
package stat
