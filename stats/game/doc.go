// Package game reads a season's game file (game.json), checks it against the
// JSON Schema that the project ships and against the rules that a schema
// cannot say, and computes points, caps, limits, bonuses, components and
// ranking points from what robots did. It is the only place that does.
//
// A Scorer scores by id, and through a Board by index: the rules exist once, on
// the Board, which allocates nothing and serves simulations.
//
// Nothing in it, or anywhere else in the program, knows an id of a game: what
// the program must recognise is said by a question's role. It imports the
// standard library and a schema checker, and any package may import it.
package game
