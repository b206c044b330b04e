// Package press puts composed scenes and sheets on the medium people get: SVG for
// pages, PNG for decks, PDF for paper. Painters draw the items of one scene, so
// that all three show the same shapes, levels and texts.
//
// Sheets (Poster, Handout, TextSlide, RootSheet, AnswerSlips) are scenes as well;
// their sentences come in from the catalog. PNG and PDF take much memory and time:
// callers hold a Limit around them.
package press
