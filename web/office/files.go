package office

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Kinds of files.
const (
	kindPDF   = "application/pdf"
	kindSVG   = "image/svg+xml"
	kindTable = "text/csv; charset=utf-8; header=present" // RFC 4180
)

// slowest is how many bytes a second must go to a reader of a large file.
const slowest = 32 << 10

// sendFile sends a file that was made whole, to be kept: a failure before it is
// still a clean error.
func sendFile(w http.ResponseWriter, r *http.Request, kind, name string, body []byte) error {
	return writeFile(w, r, kind, `attachment; filename="`+name+`"`, body)
}

// showPDF sends sheets to be looked at and printed.
func showPDF(w http.ResponseWriter, r *http.Request, name string, body []byte) error {
	return writeFile(w, r, kindPDF, `inline; filename="`+name+`"`, body)
}

// showSVG sends a picture of a page.
func showSVG(w http.ResponseWriter, r *http.Request, body []byte) error {
	return writeFile(w, r, kindSVG, "inline", body)
}

func writeFile(w http.ResponseWriter, r *http.Request, kind, disposition string, body []byte) error {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", disposition)
	w.Header().Set("Content-Length", strconv.Itoa(len(body)))
	if r.Method == http.MethodHead {
		return nil
	}
	if len(body) > slowest {
		// A summary of tens of megabytes takes longer on many a line than a page may.
		// Where the server cannot, its usual time holds.
		_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(2*time.Minute + time.Duration(len(body)/slowest)*time.Second))
	}
	if _, err := w.Write(body); err != nil {
		return nil // the reader has gone; nothing can be answered
	}
	return nil
}

// writeTable writes rows with line ends and quotes as RFC 4180 has them. Numbers
// below zero stay numbers; other text that a workbook would run as a formula does
// not.
func writeTable(to *bytes.Buffer, rows [][]string) error {
	w := csv.NewWriter(to)
	w.UseCRLF = true
	for _, row := range rows {
		for i := range row {
			if _, err := strconv.ParseFloat(row[i], 64); err != nil {
				row[i] = harmless(row[i])
			}
		}
	}
	return w.WriteAll(rows)
}

// harmless keeps a spreadsheet from taking a cell for a formula: names are
// typed by people. What could begin one gets an apostrophe before it (common
// practice; spreadsheets have no standard for it).
func harmless(cell string) string {
	first, _ := utf8.DecodeRuneInString(strings.TrimLeft(cell, " \u00a0"))
	if strings.ContainsRune("=+-@\t\r\n＝＋－＠", first) {
		return "'" + cell
	}
	return cell
}
