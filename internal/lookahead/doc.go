// Package lookahead says where rotations may take a field's egg density, and
// what its soybean years may lose: as a band, never as one figure.
//
// A year runs from fall to fall: a winter, then a season. Over winter some eggs
// are lost, or gained where winter weeds that are hosts stand. Over the season
//
//	Pf = M (1 - exp(-a Pi / M)) + b Pi
//
// (Seinhorst 1967, Nematologica 13:157-171), where Pi is the density at
// planting, Pf at harvest, a the multiplication at low density, M the most that
// reproduction adds however many there are, and b what is left of the eggs that
// were there. Under a crop that is no host a is zero. Under a resistant soybean
// b is smaller than under a non-host: eggs hatch and find nothing to live on.
// Relative yield follows Seinhorst 1965 (Nematologica 11:137-154).
//
// # Where the figures come from
//
// A parameter set (Set) names every figure with its range and its source.
// Multiplications are stored as published, with mean and range, at the density
// they were published for; a is worked out from them. Every draw takes its own
// figures: half of how a field departs from the mean stays with the field, half
// is the year's (Set's "field_share").
//
// # What holds of every set
//
// All rotations of one look share their draws, and each step rises with the
// density it starts from and with the host. So within one set, where volunteer
// soybean is controlled, a better host (Better) never lowers any quantile, and
// where winter weeds are controlled too a non-host year never raises one.
//
// The price is that the model leaves out what published work has seen now and
// then: that a low density can end above a high one (Alston and Schmitt 1987).
// It also credits the rotation of sources with what the other source does in
// its own year, not with slowing adaptation: no published figure says by how
// much it does.
package lookahead
