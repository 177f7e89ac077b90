// Package table reads and writes the CSV forms of the program's data (RFC 4180,
// UTF-8, with a header row): teams, matches with official results, scouts'
// observations, marks, rankings and pick lists.
//
// Reading is strict: a column that neither the form nor the game defines, a
// value that does not fit and a row that contradicts another are errors. All of
// them are told at once, each with file, line and column and what to do (see
// Errors). An empty cell means "not watched" or "not published", never zero.
//
// Writing is canonical: rows and columns stand in a fixed order, so that what
// was written, read and written again is the same to the byte. Texts that a
// spreadsheet would run as a formula are guarded by an apostrophe, which
// reading takes off again.
//
// It opens no file and knows no database and no HTTP. It imports stats/record
// and stats/game; any package may import it but those two.
package table
