package standings

import (
	"cmp"
	"math"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Ranked is a robot in the order as it is.
type Ranked struct {
	Team record.TeamID `json:"team"`
	Rank int           `json:"rank"` // from 1; equal for those whom only the lot parts
	// Matches that count and were played, and those that count and are to come.
	Matches int `json:"matches"`
	ToCome  int `json:"to_come"`
	// RankingPoints is the mean per counted match, Total the sum.
	RankingPoints float64 `json:"ranking_points"`
	Total         float64 `json:"total"`
	// Figures are the means that the ranking compares, in its order.
	Figures []float64 `json:"figures" nullable:"false"`
}

// The steps of a ranking that are no component.
const (
	byPoints = "ranking_points"
	byScore  = "score"
)

// Order is what the ranking of a game compares, first first.
func Order(g *game.Game) []string {
	if len(g.RankingOrder) == 0 {
		return []string{byPoints, byScore}
	}
	return g.RankingOrder
}

// Current is the order after the matches that were played, best first. Robots
// without a counted match come last.
func Current(ev *record.Event) []Ranked {
	b := newBoard(ev)
	out := make([]Ranked, len(b.teams))
	state := b.past
	for i, t := range b.teams {
		p := Ranked{Team: t, Matches: b.counted[i] - b.toCome[i], ToCome: b.toCome[i], Figures: make([]float64, len(b.steps))}
		for s := range b.steps {
			if n := b.knownPast[i*len(b.steps)+s]; n > 0 {
				p.Figures[s] = state[i*len(b.steps)+s] / n
			}
		}
		p.Total = b.pointsPast[i]
		if p.Matches > 0 {
			p.RankingPoints = p.Total / float64(p.Matches)
		}
		out[i] = p
	}
	slices.SortStableFunc(out, func(x, y Ranked) int { return cmp.Or(compare(&x, &y), record.CompareTeams(x.Team, y.Team)) })
	for i := range out {
		out[i].Rank = i + 1
		if i > 0 && compare(&out[i-1], &out[i]) == 0 {
			out[i].Rank = out[i-1].Rank
		}
	}
	return out
}

func compare(x, y *Ranked) int {
	if c := cmp.Compare(min(y.Matches, 1), min(x.Matches, 1)); c != 0 {
		return c
	}
	for s := range x.Figures {
		if c := cmp.Compare(rounded(y.Figures[s]), rounded(x.Figures[s])); c != 0 {
			return c
		}
	}
	return 0
}

// rounded takes away what sums of decimal fractions leave in the last digits.
func rounded(x float64) float64 { return math.Floor(x*1e9 + 0.5) }

// meeting is a match that is still to come.
type meeting struct {
	match *record.Match
	sides [2]lineUp // red, blue
}

// lineUp is an alliance by index.
type lineUp struct {
	counts []int // robots whose match counts
	plays  []int // robots that are expected to be there
}

// board is the qualification of an event, by index of team.
type board struct {
	g     *game.Game
	teams []record.TeamID
	index map[record.TeamID]int
	steps []string
	// What was played: sums by team and step, and how many matches they are of.
	past, knownPast []float64
	pointsPast      []float64 // sums of ranking points
	counted, toCome []int     // matches that count in the end
	rest            []meeting
	played          []*record.Match
}

func newBoard(ev *record.Event) *board {
	b := &board{g: ev.Game, index: map[record.TeamID]int{}, steps: Order(ev.Game)}
	for _, t := range ev.Teams {
		b.index[t.ID] = len(b.teams)
		b.teams = append(b.teams, t.ID)
	}
	n := len(b.teams)
	b.past, b.knownPast = make([]float64, n*len(b.steps)), make([]float64, n*len(b.steps))
	b.pointsPast, b.counted, b.toCome = make([]float64, n), make([]int, n), make([]int, n)
	last := map[record.MatchID]*record.Match{}
	for i := range ev.Matches {
		m := &ev.Matches[i]
		if have, ok := last[m.ID]; m.ID.Stage == record.Qualification && (!ok || m.Play > have.Play) {
			last[m.ID] = m
		}
	}
	for i := range ev.Matches {
		m := &ev.Matches[i]
		switch {
		case last[m.ID] != m:
		case m.Played():
			b.reveal(m, record.Red)
			b.reveal(m, record.Blue)
			b.played = append(b.played, m)
		case len(m.Red.Teams) > 0 && len(m.Blue.Teams) > 0:
			b.rest = append(b.rest, meeting{m, [2]lineUp{b.expect(&m.Red), b.expect(&m.Blue)}})
		}
	}
	return b
}

// reveal adds the result of one side.
func (b *board) reveal(m *record.Match, c record.Colour) {
	a := m.Side(c)
	points := b.points(m, c)
	for _, t := range a.Teams {
		i, ok := b.index[t]
		if !ok || slices.Contains(a.Surrogates, t) {
			continue
		}
		b.counted[i]++
		out := slices.Contains(a.Disqualified, t)
		if !out {
			b.pointsPast[i] += points
		}
		for s, step := range b.steps {
			v, known := points, true
			switch step {
			case byPoints:
			case byScore:
				v = a.Result.Score
			default:
				v, known = a.Result.Components[step], hasKey(a.Result.Components, step)
			}
			if out {
				v, known = 0, true
			}
			if known {
				b.past[i*len(b.steps)+s] += v
				b.knownPast[i*len(b.steps)+s]++
			}
		}
	}
}

func hasKey(m map[string]float64, k string) bool { _, ok := m[k]; return ok }

// points are the ranking points of one side: what the venue published, else
// what the game file gives for what it published. A condition that cannot be
// seen gives none.
func (b *board) points(m *record.Match, c record.Colour) float64 {
	if r := m.Side(c).Result; r.RankingPoints != nil {
		return *r.RankingPoints
	}
	var sum float64
	for i := range b.g.RankingPoints {
		p := &b.g.RankingPoints[i]
		if got, known := m.Gained(b.g, &p.When, c); got && known {
			sum += p.Points
		}
	}
	return sum
}

func (b *board) expect(a *record.Alliance) (l lineUp) {
	for _, t := range a.Teams {
		i, ok := b.index[t]
		if !ok {
			continue
		}
		if !slices.Contains(a.Absent, t) {
			l.plays = append(l.plays, i)
		}
		if !slices.Contains(a.Surrogates, t) {
			b.counted[i]++
			b.toCome[i]++
			if !slices.Contains(a.Disqualified, t) {
				l.counts = append(l.counts, i)
			}
		}
	}
	return l
}
