package assay

import "strconv"

// maxKey is the longest key, in letters.
const maxKey = 64

// keyProblem is the problem of a name that is not a key: lower-case letters,
// digits and underscores, starting with a letter. Empty for none.
func keyProblem(key string) Problem {
	if key == "" {
		return Missing
	}
	if len(key) > maxKey {
		return TooLarge
	}
	for i, r := range key {
		letter := r >= 'a' && r <= 'z'
		if !letter && (i == 0 || r != '_' && (r < '0' || r > '9')) {
			return NotKey
		}
	}
	return ""
}

// classField names a part of a class in an Invalid.
func classField(i int, part string) string {
	return "classes." + strconv.Itoa(i) + "." + part
}
