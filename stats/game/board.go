package game

import (
	"math"
	"slices"
)

// Board is one match that is scored from numbers again and again without
// allocating: write what the alliances did into Did, call Score, read Got.
// Entry 0 is red, 1 blue. A Board is for one goroutine.
type Board struct {
	s     *Scorer
	Did   [2]Sheet
	Got   [2]Result
	left  [][2]float64 // by limit; a limit per match uses entry 0 only
	share [2][]float64 // by unit: what part of what was done is credited
}

// Sheet is what one alliance did in one match, as numbers. Units are indexed by
// Scorer.Unit, fouls as in Game.Fouls. Numbers are not checked: they are at
// least 0, a flag and the option of a choice 0 or 1, and a robot has one option
// of a choice.
type Sheet struct {
	Fouls  []float64 // committed by this alliance
	robots int
	width  int
	units  []float64 // rows of robots, then the row of the alliance
}

// Result is what an alliance is credited with; the fields are those of Scored.
type Result struct {
	Points, FromFouls, Ranking, Rest float64

	Credited      []float64 // by unit
	Robots        []float64 // points of each
	Bonuses       []float64 // how often each of Game.Bonuses was paid
	Components    []float64 // as in Game.Components
	RankingPoints []bool    // as in Game.RankingPoints
}

// NewBoard makes a board with full alliances that did nothing.
func (s *Scorer) NewBoard() *Board {
	b := &Board{s: s, left: make([][2]float64, len(s.g.Limits))}
	for side := range b.Did {
		b.share[side] = make([]float64, len(s.units))
		b.Did[side] = Sheet{Fouls: make([]float64, len(s.g.Fouls)), width: len(s.units)}
		b.Did[side].Reset(s.g.Alliance.Robots)
		b.Got[side] = Result{
			Credited: make([]float64, len(s.units)), Bonuses: make([]float64, len(s.bonuses)),
			Components: make([]float64, len(s.parts)), RankingPoints: make([]bool, len(s.ranks)),
		}
	}
	return b
}

// Unit is the index of what is credited on its own: action k of Game.Actions,
// and option j of it if it is a choice (else j is 0).
func (s *Scorer) Unit(k, j int) int { return s.of[k][j] }

// ActionIndex is the place of an action in Game.Actions, −1 if it is not there.
func (s *Scorer) ActionIndex(id string) int {
	return slices.IndexFunc(s.g.Actions, func(a Action) bool { return a.ID == id })
}

// Reset empties the sheet for an alliance of so many robots.
func (d *Sheet) Reset(robots int) {
	d.robots = robots
	if n := (robots + 1) * d.width; cap(d.units) < n {
		d.units = make([]float64, n)
	} else {
		d.units = d.units[:n]
		clear(d.units)
	}
	clear(d.Fouls)
}

// Robot is the row of robot r, by unit.
func (d *Sheet) Robot(r int) []float64 { return d.units[r*d.width : (r+1)*d.width : (r+1)*d.width] }

// Alliance is the row of what belongs to no robot, by unit.
func (d *Sheet) Alliance() []float64 { return d.Robot(d.robots) }

// Score works out Got from Did.
func (b *Board) Score() {
	b.Credit()
	b.Rank()
}

// Credit works out Got from Did, all but the ranking points: who changes
// Points then, because of what the game file does not know, calls Rank.
func (b *Board) Credit() {
	b.credit()
	for side := range b.Got {
		b.sum(side)
	}
	for _, x := range b.s.steps { // both sides: a condition may look at the opponent
		for side := range b.Got {
			if x.bonus {
				b.bonus(side, x.index)
			} else {
				b.Got[side].Components[x.index] = b.component(side, x.index)
			}
		}
	}
	for side := range b.Got {
		got, opponent := &b.Got[side], &b.Did[1-side]
		for i, n := range got.Bonuses {
			got.Points += n * b.s.bonuses[i].points
		}
		got.FromFouls = 0
		for k := range b.s.g.Fouls {
			got.FromFouls += opponent.Fouls[k] * b.s.g.Fouls[k].OpponentPoints
		}
		got.Points += got.FromFouls
	}
}

// credit works out how much of each unit counts.
func (b *Board) credit() {
	s := b.s
	for i := range s.g.Limits {
		most := s.g.Limits[i].Max
		b.left[i] = [2]float64{most, most}
	}
	for i := range s.units {
		var done, got [2]float64
		for side := range got {
			d := &b.Did[side]
			for k := i; k < len(d.units); k += d.width {
				done[side] += d.units[k]
			}
			got[side] = min(done[side], s.max[i])
		}
		if s.limited[i] {
			b.limit(i, &got)
		}
		for side := range got {
			b.Got[side].Credited[i] = got[side]
			b.share[side][i] = 1
			if got[side] != done[side] {
				b.share[side][i] = got[side] / done[side]
			}
		}
	}
}

// limit cuts what is credited of unit i to what the limits leave.
func (b *Board) limit(i int, got *[2]float64) {
	limits, s := b.s.limits[i], b.s
	for _, l := range limits {
		if s.g.Limits[l].Per == "match" {
			if sum := got[0] + got[1]; sum > b.left[l][0] {
				share := b.left[l][0] / sum
				got[0], got[1] = got[0]*share, got[1]*share
			}
			continue
		}
		for side := range got {
			got[side] = min(got[side], b.left[l][side])
		}
	}
	for _, l := range limits {
		if s.g.Limits[l].Per == "match" {
			b.left[l][0] = max(b.left[l][0]-got[0]-got[1], 0)
			continue
		}
		for side := range got {
			b.left[l][side] -= got[side]
		}
	}
}

// sum adds up the points of one alliance's units, and of its robots: where a
// cap cut what several did, they share what was credited.
func (b *Board) sum(side int) {
	d, got := &b.Did[side], &b.Got[side]
	share := b.share[side]
	got.Points = 0
	for i := range b.s.units {
		got.Points += got.Credited[i] * b.s.units[i].points
	}
	if cap(got.Robots) < d.robots {
		got.Robots = make([]float64, d.robots)
	}
	got.Robots = got.Robots[:d.robots]
	for r := 0; r <= d.robots; r++ {
		sum := 0.0
		for i, n := range d.Robot(r) {
			if n != 0 {
				sum += n * share[i] * b.s.units[i].points
			}
		}
		if r < d.robots {
			got.Robots[r] = sum
		} else {
			got.Rest = sum
		}
	}
}

// bonus pays a bonus. The points of a for_each bonus belong to the robots in
// proportion to their units.
func (b *Board) bonus(side, index int) {
	x, got, d := &b.s.bonuses[index], &b.Got[side], &b.Did[side]
	got.Bonuses[index] = 0
	if x.step == 0 {
		if b.holds(side, &x.when) {
			got.Bonuses[index] = 1
			got.Rest += x.points
		}
		return
	}
	sum := 0.0
	for r := 0; r <= d.robots; r++ {
		sum += b.credited(side, r, x.units)
	}
	times := math.Floor(sum/x.step + slack)
	if times <= 0 {
		return
	}
	got.Bonuses[index] = times
	for r := 0; r <= d.robots; r++ {
		points := times * x.points * b.credited(side, r, x.units) / sum
		if r < d.robots {
			got.Robots[r] += points
		} else {
			got.Rest += points
		}
	}
}

// credited is how many of some units one row of a sheet is credited with.
func (b *Board) credited(side, row int, units []int) float64 {
	sum, did := 0.0, b.Did[side].Robot(row)
	for _, i := range units {
		if did[i] != 0 {
			sum += did[i] * b.share[side][i]
		}
	}
	return sum
}

// component is the value of a component for one alliance.
func (b *Board) component(side, index int) float64 {
	x, got := &b.s.parts[index], &b.Got[side]
	sum := 0.0
	for k, i := range x.units {
		sum += got.Credited[i] * x.weights[k]
	}
	for _, i := range x.bonuses {
		sum += got.Bonuses[i] * b.s.bonuses[i].points
	}
	return sum
}

// holds reports whether one alliance meets a condition.
func (b *Board) holds(side int, t *test) bool {
	switch t.form {
	case wins:
		return b.Got[side].Points > b.Got[1-side].Points+slack
	case ties:
		return math.Abs(b.Got[0].Points-b.Got[1].Points) <= slack
	case atLeast:
		return b.value(side, t.part) >= t.least-slack
	case moreThan:
		return b.value(side, t.part) > b.value(1-side, t.part)+slack
	case both:
		return b.did(0, t.units) && b.did(1, t.units)
	case anyOf:
		for i := range t.list {
			if b.holds(side, &t.list[i]) {
				return true
			}
		}
		return false
	case allOf:
		for i := range t.list {
			if !b.holds(side, &t.list[i]) {
				return false
			}
		}
		return true
	}
	return false
}

func (b *Board) value(side, part int) float64 {
	if part < 0 {
		return 0
	}
	return b.Got[side].Components[part]
}

// did reports whether an alliance was credited with any of some units.
func (b *Board) did(side int, units []int) bool {
	for _, i := range units {
		if b.Got[side].Credited[i] > 0 {
			return true
		}
	}
	return false
}

// Rank gives both alliances their ranking points from Points and Components.
func (b *Board) Rank() {
	for side := range b.Got {
		got, opponent := &b.Got[side], &b.Did[1-side]
		got.Ranking = 0
		for i := range b.s.ranks {
			gained := b.holds(side, &b.s.ranks[i])
			for _, f := range b.s.gains[i] {
				gained = gained || opponent.Fouls[f] > 0
			}
			got.RankingPoints[i] = gained
			if gained {
				got.Ranking += b.s.g.RankingPoints[i].Points
			}
		}
	}
}
