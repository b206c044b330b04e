// Package tabular reads a day's counts as one file: comma, semicolon or tab
// separated text, or a workbook. It looks at a file as it comes from a lab's
// own spreadsheet, gives every row a verdict, and stores nothing.
//
//	Open ──► Sheet ──Guess──► Mapping (columns to fields, remembered by header)
//	                └──Each───► Row (an Entry, or its problems field by field)
//
// # What a file may be like
//
// UTF-8 with or without a byte order mark, UTF-16 with one, otherwise
// Windows-1252, which holds all of Latin-1's letters. Lines may end in CRLF, LF
// or CR. Rows above the header, blank rows and blank tails are passed over. A
// number may have a decimal comma where the file shows that it means one; where
// it does not, and guessing could be wrong by a thousand, the cell is Ambiguous.
// A cell that is a formula as text is no value; ="text", by which spreadsheets
// are told to leave a code alone, is. A code that a spreadsheet has turned into
// a number is told so.
//
// # What it costs
//
// A file is held in memory once (MaxFile), a workbook's parts once more unpacked
// (MaxUnpacked), and rows pass one at a time. Nothing is written to temporary
// files, and a file that would unpack to more, or whose XML would grow in memory
// to many times its size, is refused before it is kept. A hundred thousand rows
// of three portions took 3 s and 20 MB as text, 7 s and 110 MB as a workbook (two
// cores, 2026); the worst workbooks within the limits took 400 MB and 20 s. An
// office's server should read one file at a time.
//
// # What it cannot tell
//
// A workbook's formulas come as the values their program last worked out. Rows
// that a filter hides are rows. In a date with slashes the month comes first.
package tabular
