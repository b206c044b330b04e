package bag

import (
	"errors"
	"strings"
)

// Words stand on a bag's stub beside its code. Together they open the bag's
// answer: 44 bits that only the stub has, as four words of a list of 2,048. The
// words mean nothing in any language, are read aloud alike in English and Spanish,
// and no two of a list differ by case or by an accent.
type Words uint64

const (
	wordBits  = 11
	wordCount = 4
	wordSize  = 4 // letters

	// WordsBits is how many bits a stub's words hold.
	WordsBits = wordBits * wordCount

	// StubTries is how often a code may be tried with words on one day. At that
	// rate a stub's words are guessed within the years that an answer is kept with
	// a chance of one in a billion.
	StubTries = 10
)

// ErrWords: not words as stubs have them.
var ErrWords = errors.New("not the words of a stub")

// ParseWords reads words as people type them: in any case, with or without
// spaces, dashes and commas between.
func ParseWords(s string) (Words, error) {
	letters := make([]byte, 0, wordCount*wordSize)
	for _, r := range s {
		switch {
		case r >= 'A' && r <= 'Z':
			r += 'a' - 'A'
		case strings.ContainsRune(" -,.;\t\r\n\u00a0", r):
			continue
		}
		if r < 'a' || r > 'z' || len(letters) == wordCount*wordSize {
			return 0, ErrWords
		}
		letters = append(letters, byte(r))
	}
	if len(letters) != wordCount*wordSize {
		return 0, ErrWords
	}
	var w Words
	for i := range wordCount {
		n, ok := wordNumber[string(letters[i*wordSize:(i+1)*wordSize])]
		if !ok {
			return 0, ErrWords
		}
		w = w<<wordBits | Words(n)
	}
	return w, nil
}

// String writes the words with spaces between, as stubs show them. Bits beyond
// WordsBits are ignored.
func (w Words) String() string {
	var out [wordCount]string
	for i := wordCount - 1; i >= 0; i-- {
		out[i] = wordList[w&(1<<wordBits-1)]
		w >>= wordBits
	}
	return strings.Join(out[:], " ")
}

// wordList are the words by their number. The order is part of what is printed on
// stubs: it never changes.
var wordList, wordNumber = makeWords()

// makeWords lists the words of two syllables of a consonant and a vowel, less
// those that are rude or unkind in English or Spanish, as far as we know.
func makeWords() ([]string, map[string]int) {
	var syllables []string
	for _, c := range "bdfgklmnprst" {
		for _, v := range "aeio" {
			syllables = append(syllables, string(c)+string(v))
		}
	}
	unkind := make(map[string]bool)
	for _, w := range strings.Fields(unkindWords) {
		unkind[w] = true
	}
	var list []string
	number := make(map[string]int, 1<<wordBits)
	// Second syllables first, so that the words left over at the end are spread.
	for _, second := range syllables {
		for _, first := range syllables {
			if w := first + second; !unkind[w] && first != second && len(list) < 1<<wordBits {
				number[w] = len(list)
				list = append(list, w)
			}
		}
	}
	return list, number
}

const unkindWords = `bobo boba dago dego dike feto fago gafo gago gaga goto kaka kaki kike lela lelo lesi loka loko
	mala male malo mata mate mato mofo mono mona moro mora nata nena nene niga nigo paki pedo pena pene pipi piko piso pito
	pota poto popo rape rapo rata rato rabo robo sado sapo sati seko sida sido tara teta teti tete tito tipo toto
	fagi figa filo feko kago kaga meko mika kili kilo dado dora bela pelo pela`
