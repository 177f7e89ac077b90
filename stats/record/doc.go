// Package record has the plain types that the rest of the program speaks:
// teams, matches, alliances, results, observations, marks, estimates,
// forecasts, and the revisions of which every record consists.
//
// It computes nothing but what follows from a set of revisions alone (which of
// them counts), knows no file form, no database and no HTTP. Any package may
// import it; it imports stats/game only.
package record
