package bag

import (
	"fmt"
	"strings"
)

// checkAlphabet is the alphabet of ISO 7064 MOD 37-2. The star stands for 36
// and can only be a check character.
const checkAlphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"

// check37 is the check character of ISO 7064 MOD 37-2 for a string of digits
// and upper-case letters. With it the values of all characters, weighted by
// powers of two from the right (the check character's weight is 1), add up to
// 1 modulo 37. No power of two is a multiple of 37, nor is any of their
// differences between neighbors, so a single wrong character and a swap of two
// neighbors always change the sum.
func check37(s string) (byte, error) {
	sum := 0
	for i := range len(s) {
		value := strings.IndexByte(checkAlphabet[:36], s[i])
		if value < 0 {
			return 0, fmt.Errorf("check character: no value for character %d", i+1)
		}
		sum = (sum + value) * 2 % 37
	}
	return checkAlphabet[(38-sum)%37], nil
}
