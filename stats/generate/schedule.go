package generate

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// meeting is one match of a schedule: indices of teams, first red's stations
// 1, 2, …, then blue's.
type meeting struct {
	slots      []int
	surrogates []int // the teams for which this match does not count
}

// Weights of the schedule's cost. They only have to be in this order of size:
// a robot cannot play twice in a match at all, back-to-back matches hurt most,
// then meeting the same partner again, then the same opponent, then always
// the same side or station.
const (
	costTwice    = 10000.0
	costGap      = 25.0
	costPartner  = 8.0
	costOpponent = 3.0
	costColour   = 3.0
	costStation  = 0.5
)

// A match has a number of at most four digits (record.ParseMatch): what has
// more could be written and never read again.
const maxMatches = 9999

// moves per match that the search tries; more gave no visibly better schedule.
const searchMoves = 4000

// schedule draws matches so that every team plays perTeam of them. Where the
// places are not divisible, surrogates fill up: they play one match more,
// their third, which does not count for them (common practice, no source).
// Gaps between a team's matches are kept, partners and opponents spread, by
// simulated annealing over exchanges of two places.
func schedule(rng *rand.Rand, teams, perTeam, size int) ([]meeting, error) {
	places := 2 * size
	switch {
	case size < 1:
		return nil, errors.New("an alliance needs at least one robot")
	case teams < places:
		return nil, fmt.Errorf("%d teams cannot fill a match of %d robots: add teams", teams, places)
	case perTeam < 1:
		return nil, fmt.Errorf("%d matches a team: ask for at least 1", perTeam)
	case perTeam > maxMatches*places/teams:
		return nil, fmt.Errorf("%d matches for each of %d teams: matches have numbers up to %d; ask for fewer", perTeam, teams, maxMatches)
	}
	extra := (places - teams*perTeam%places) % places
	deck := make([]int, 0, teams*perTeam+extra)
	for round := range perTeam {
		deck = append(deck, rng.Perm(teams)...)
		if round == min(2, perTeam-1) {
			deck = append(deck, rng.Perm(teams)[:extra]...)
		}
	}
	s := newSearch(deck, teams, size)
	s.run(rng)
	if !s.legal() {
		return nil, fmt.Errorf("no schedule found in which no robot plays twice in a match (%d teams, %d matches each)", teams, perTeam)
	}

	meetings := make([]meeting, len(deck)/places)
	nth := make([]int, teams)
	for m := range meetings {
		meetings[m].slots = slices.Clone(s.deck[m*places : (m+1)*places])
		for _, t := range meetings[m].slots {
			nth[t]++
			if len(s.at[t]) > perTeam && nth[t] == min(3, perTeam+1) {
				meetings[m].surrogates = append(meetings[m].surrogates, t)
			}
		}
	}
	return meetings, nil
}

// search is the state of the annealing, kept so that an exchange costs O(size).
type search struct {
	deck   []int   // place → team
	at     [][]int // team → its matches, sorted
	size   int
	gap    int     // wished gap between a team's matches
	with   [][]int // how often two teams were partners
	versus [][]int // and opponents
	sides  [][]int // team → times at each place of a match
	lean   []int   // team → matches as red less matches as blue
	cost   float64 // sum of all costs
	teams  int
}

func newSearch(deck []int, teams, size int) *search {
	s := &search{deck: deck, size: size, teams: teams, gap: max(2, (teams/(2*size)+1)/2+1)}
	s.lean = make([]int, teams)
	s.at, s.with, s.versus, s.sides = make([][]int, teams), make([][]int, teams), make([][]int, teams), make([][]int, teams)
	for t := range teams {
		s.with[t], s.versus[t], s.sides[t] = make([]int, teams), make([]int, teams), make([]int, 2*size)
	}
	all := slices.Clone(deck)
	for p := range deck {
		s.deck[p] = -1
	}
	for p, t := range all {
		s.put(p, t)
	}
	return s
}

// put places team t at place p, take removes who is there; both keep cost.
func (s *search) put(p, t int) { s.deck[p] = t; s.change(p, t, 1) }
func (s *search) take(p int) int {
	t := s.deck[p]
	s.change(p, t, -1)
	s.deck[p] = -1
	return t
}

func (s *search) change(p, t, step int) {
	places := 2 * s.size
	match, place := p/places, p%places
	for q := match * places; q < (match+1)*places; q++ {
		u := s.deck[q]
		if q == p || u < 0 {
			continue
		}
		if u == t {
			s.cost += costTwice * float64(step)
			continue
		}
		table, weight := s.versus, costOpponent
		if (q%places < s.size) == (place < s.size) {
			table, weight = s.with, costPartner
		}
		s.cost += weight * squareStep(table[t][u], step)
		table[t][u] += step
		table[u][t] += step
	}
	s.cost += costStation * squareStep(s.sides[t][place], step)
	s.sides[t][place] += step
	lean := s.lean[t]
	s.lean[t] += step
	if place >= s.size {
		s.lean[t] -= 2 * step
	}
	s.cost += costColour * float64(s.lean[t]*s.lean[t]-lean*lean)
	// Only the gaps on both sides of the match change.
	i, _ := slices.BinarySearch(s.at[t], match)
	if step < 0 {
		s.at[t] = slices.Delete(s.at[t], i, i+1)
	}
	before, after := math.MinInt32, math.MaxInt32
	if i > 0 {
		before = s.at[t][i-1]
	}
	if i < len(s.at[t]) {
		after = s.at[t][i]
	}
	s.cost += float64(step) * (s.short(match-before) + s.short(after-match) - s.short(after-before))
	if step > 0 {
		s.at[t] = slices.Insert(s.at[t], i, match)
	}
}

// squareStep is (n+step)² − n².
func squareStep(n, step int) float64 { return float64(step * (2*n + step)) }

// short is the cost of a gap.
func (s *search) short(gap int) float64 {
	if short := s.gap - gap; short > 0 {
		return costGap * float64(short*short)
	}
	return 0
}

func (s *search) run(rng *rand.Rand) {
	places := 2 * s.size
	moves := searchMoves * len(s.deck) / places
	const hot, cold = 60.0, 0.6
	reach := places * (s.gap + 1) // exchanges over a longer time rarely help
	for i := range moves {
		heat := hot * math.Pow(cold/hot, float64(i)/float64(moves))
		p := rng.IntN(len(s.deck))
		q := p + rng.IntN(2*reach+1) - reach
		if q < 0 || q >= len(s.deck) || s.deck[p] == s.deck[q] {
			continue
		}
		before := s.cost
		s.exchange(p, q)
		if worse := s.cost - before; worse > 0 && rng.Float64() >= math.Exp(-worse/heat) {
			s.exchange(p, q)
		}
	}
}

func (s *search) exchange(p, q int) {
	t, u := s.take(p), s.take(q)
	s.put(p, u)
	s.put(q, t)
}

// legal reports whether no robot plays twice in one match.
func (s *search) legal() bool {
	for _, at := range s.at {
		for i := 1; i < len(at); i++ {
			if at[i] == at[i-1] {
				return false
			}
		}
	}
	return true
}
