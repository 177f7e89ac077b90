// Package selection is alliance selection by its rules: who is captain, who is
// on the clock, whom a captain may invite, and what an answer does to the
// board. It knows nothing of how good a robot is; package worth does.
//
// A Board is made from the rules of the game and the final ranking. Moves
// change it; a move against the rules changes nothing and is refused with the
// rule in words (Refusal). A selection is kept as a log of moves, each of which
// may have been written on another device (Entry); Replay puts the log in one
// order and tells which moves count. To undo is to take moves off the log
// (Undo) and to replay.
//
// The rules, common practice without a source; an event's own go first:
//
//   - Captains are the best ranked teams that nobody has picked.
//   - Round 1 runs from alliance 1 to the last, round 2 back, and so on
//     (serpentine): who chooses last in a round chooses first in the next.
//   - A captain may invite any team that is in no alliance, also a captain
//     whose alliance has not chosen yet. If that one accepts, the captains
//     below move up and the best ranked free team becomes the last captain.
//   - Who declines cannot be invited again, but stays, or can become, captain.
//   - A captain that has chosen cannot be invited.
//   - A team that does not show is out: it is neither captain nor invited.
//   - If nobody may be invited, the alliance stays short.
//   - Once all have chosen, an alliance may call backups, as many as the game
//     says: the best ranked team that is left and has not said no.
//
// There is no clock, no file and no randomness in it. It imports stats/record
// and stats/game. One example:
//
//	b, err := selection.New(selection.RulesOf(g.Selection), ranking)
//	err = b.Move(selection.Move{Captain: "40101", Invites: "40115", Answer: selection.Declines})
package selection
