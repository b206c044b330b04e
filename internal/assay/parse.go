package assay

import (
	"strconv"
	"strings"
)

// The longest numbers taken: a billion and six decimals are more than anything
// in a lab, and less than a bag's code read into the wrong field.
const (
	maxWhole    = 9
	maxDecimals = 6
)

// ParseNumber reads a number as a technician types it: digits, perhaps in
// groups of three parted by commas, perhaps with a decimal point and digits
// after it, perhaps with space around it: "100", "1,250", "2.5".
//
// Everything else is refused rather than guessed at. "1,5" may be one and a
// half or fifteen; "1e3" and "0x10" are no way to write down a count; "007" is
// more likely a code than a number. The error is Missing for nothing at all,
// Negative for a number with a minus sign before it, TooLarge for more than
// nine digits before the point or six after it, and NotNumber for the rest.
func ParseNumber(s string) (float64, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return 0, Missing
	}
	if unsigned, minus := cutMinus(s); minus {
		if _, err := parseUnsigned(unsigned); err != nil {
			return 0, NotNumber
		}
		return 0, Negative
	}
	return parseUnsigned(s)
}

func parseUnsigned(s string) (float64, error) {
	whole, decimals, point := strings.Cut(s, ".")
	digits, ok := ungroup(whole)
	if !ok || point && !allDigits(decimals) {
		return 0, NotNumber
	}
	if len(digits) > maxWhole || len(decimals) > maxDecimals {
		return 0, TooLarge
	}
	v, err := strconv.ParseFloat(digits+"."+decimals+"0", 64)
	if err != nil {
		return 0, NotNumber
	}
	return v, nil
}

// ParseEggs reads a number of eggs, typed as for ParseNumber but whole. The
// error is one of ParseNumber's, or NotWhole.
func ParseEggs(s string) (int, error) {
	v, err := ParseNumber(s)
	if err != nil {
		return 0, err
	}
	if v != float64(int(v)) {
		return 0, NotWhole
	}
	return int(v), nil
}

// cutMinus takes off one leading minus, the keyboard's or the typesetter's.
func cutMinus(s string) (string, bool) {
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		return rest, true
	}
	return strings.CutPrefix(s, "\u2212")
}

// ungroup takes the commas out of whole digits: none, or one before every three
// digits from the right. A leading zero stands alone.
func ungroup(s string) (string, bool) {
	groups := strings.Split(s, ",")
	for i, g := range groups {
		if !allDigits(g) || i > 0 && len(g) != 3 || i == 0 && len(groups) > 1 && len(g) > 3 {
			return "", false
		}
	}
	digits := strings.Join(groups, "")
	if len(digits) > 1 && digits[0] == '0' {
		return "", false
	}
	return digits, true
}

// allDigits reports at least one digit and nothing else.
func allDigits(s string) bool {
	for _, r := range s {
		if r < '0' || r > '9' {
			return false
		}
	}
	return s != ""
}
