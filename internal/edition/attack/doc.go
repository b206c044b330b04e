// Package attack is somebody who wants to know whose field it was. It reads
// what is public, every edition's text and any other figure, and reports what
// it can work out that it should not.
//
// It imports nothing of the project, so that it cannot share a mistake with
// the release it attacks. The attacks are listed in attacks.go, each with its
// reason. The rest is their tools: a reader of the canonical text, a solver of
// tables with hidden cells, and the two rules an insider is measured by.
package attack
