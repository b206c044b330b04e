// Package press puts composed scenes and sheets on the medium people get: SVG for
// pages, PDF for paper.
package press
