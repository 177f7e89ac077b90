// Package record has the plain types that the rest of the program speaks:
// teams, matches, alliances, results, observations, marks, estimates,
// forecasts, and the revisions of which every record consists.
//
// It computes what follows from a set of revisions alone (Resolve: which of
// them counts), the ids by which devices name the same record (ObservationID
// and others), whether the body of a record fits the game (CheckBody), and what
// observations mean for scoring (PlayedFrom). It knows no file form, no
// database and no HTTP. Any package may import it; it imports stats/game only.
package record
