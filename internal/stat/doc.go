// Package stat holds the intervals the program prints beside its figures:
// how far a share, a difference of two shares or a count can be trusted.
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
package stat
