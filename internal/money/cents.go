// Package money is what the program's bags cost: amounts in whole cents, fiscal
// years, budgets, and what a season will come to. Amounts are never floating
// point numbers: only the return rate is, and what it leads to is rounded to
// whole bags before a price meets it.
//
// What is worked out here is from bags and prices. It is no bookkeeping and
// takes the place of none.
package money

import (
	"errors"
	"strconv"
	"strings"
)

// Cents is an amount in hundredths of the program's currency. It may be below
// zero: what is left of a budget that was overspent.
type Cents int64

// Most is the largest amount that may be typed: a hundred million. Sums of a few
// thousand of these stay far within a Cents.
const Most Cents = 100_000_000_00

// ErrAmount is what Parse says of anything that is not an amount.
var ErrAmount = errors.New("not an amount of money")

// Parse reads an amount as people type it: "12", "12.5", "12.50", "$1,234.56".
// Commas part groups of three digits or are refused: "1,50" is one and a half to
// some and a hundred and fifty to others. Nothing below zero and nothing above
// Most.
func Parse(s string) (Cents, error) {
	s = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(s), "$"))
	whole, part, dotted := strings.Cut(s, ".")
	if dotted && (part == "" || len(part) > 2 || !digits(part)) {
		return 0, ErrAmount
	}
	whole, ok := ungroup(whole)
	if !ok {
		return 0, ErrAmount
	}
	for len(part) < 2 {
		part += "0"
	}
	n, err := strconv.ParseInt(whole+part, 10, 64)
	if err != nil || Cents(n) > Most {
		return 0, ErrAmount
	}
	return Cents(n), nil
}

// ungroup takes the commas out of whole dollars.
func ungroup(s string) (string, bool) {
	groups := strings.Split(s, ",")
	for i, g := range groups {
		if !digits(g) || i > 0 && len(g) != 3 || i == 0 && len(groups) > 1 && len(g) > 3 {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}

func digits(s string) bool {
	for _, r := range s {
		if r < '0' || r > '9' {
			return false
		}
	}
	return s != ""
}

// String is the amount as it is shown: $1,234.56, or −$1,234.56.
func (c Cents) String() string {
	if c < 0 {
		return "−" + (-c).String()
	}
	whole, part, _ := strings.Cut(c.Dollars(), ".")
	out := ""
	for len(whole) > 3 {
		out = "," + whole[len(whole)-3:] + out
		whole = whole[:len(whole)-3]
	}
	return "$" + whole + out + "." + part
}

// Dollars is the amount as a plain number, as a form or a file wants it: 1234.56.
func (c Cents) Dollars() string {
	if c < 0 {
		return "-" + (-c).Dollars()
	}
	s := strconv.FormatInt(int64(c), 10)
	for len(s) < 3 {
		s = "0" + s
	}
	return s[:len(s)-2] + "." + s[len(s)-2:]
}

// Times is the price of n pieces.
func (c Cents) Times(n int) Cents { return c * Cents(n) }
