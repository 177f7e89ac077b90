package study

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/bracket"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/stats/standings"
	"sextant/stats/worth"
)

// The ways to choose a partner that are compared.
const (
	ByWorth   = "worth"   // the recommended call
	ByTies    = "ties"    // of those that cannot be told from it, the one with most points
	ByNow     = "now"     // the highest estimate of what to expect next
	ByAverage = "average" // the highest average of what scouts wrote down
	ByOPR     = "opr"     // the highest offensive power rating, plain least squares
	ByRank    = "rank"    // the best ranked
)

// SelectionOptions of a study of selections.
type SelectionOptions struct {
	Events int // invented, from the random streams 1, 2, … of Seed
	Seed   uint64
	Invent generate.Options
	Worlds int // that the recommended call may draw
	Plays  int // playoffs of each event and way, with the same luck for all ways
	// Place is what a final place is worth; nil: 1, 0.6 and 0.35 for the first
	// three. The recommended call goes for winning alone all the same.
	Place func(int) float64
}

// WayScores are means over events.
type WayScores struct {
	Way    string  `json:"way"`
	Wins   float64 `json:"wins"` // share of playoffs that we win
	WinsSE float64 `json:"wins_se"`
	Worth  float64 `json:"worth"` // of the place that we end at
	// What the recommended call has more, paired by event, with the standard
	// error over events.
	WinsBehind  Difference `json:"wins_behind"`
	WorthBehind Difference `json:"worth_behind"`
}

// SelectionReport is what a study of selections found.
type SelectionReport struct {
	Events int    `json:"events"`
	Seed   uint64 `json:"seed"`
	Plays  int    `json:"plays"`
	// Promised is the mean chance to win that the recommendation gave its last
	// call of an event; what became of it is the first way's Wins.
	Promised float64     `json:"promised"`
	Ways     []WayScores `json:"ways" nullable:"false"`
}

// Selections plays the alliance selection of invented events, our calls in each
// of six ways, and then the playoff by the generator, who knows every robot.
//
// We are one of the first eight of the ranking, another one from event to
// event. The other captains have lists of their own, halfway between the
// public ranking and the truth seen with an error; these are not the lists that
// the recommended call reckons with. All ways meet the same lists, the same
// answers and the same seeds of every match. When ctx ends, the report is about
// the events played by then.
func Selections(ctx context.Context, g *game.Game, opt SelectionOptions) (*SelectionReport, error) {
	if opt.Events < 2 || opt.Plays < 1 || opt.Worlds < 1 {
		return nil, errors.New("a study of selections needs two events or more, one playoff and one world")
	}
	if opt.Place == nil {
		opt.Place = func(place int) float64 { return map[int]float64{1: 1, 2: 0.6, 3: 0.35}[place] }
	}
	ways := []string{ByWorth, ByTies, ByNow, ByAverage, ByOPR, ByRank}
	got := make([][]result, len(ways))
	promised := 0.0
	for k := 1; k <= opt.Events; k++ {
		w, err := generate.New(g, rand.New(rand.NewPCG(opt.Seed, uint64(k))), opt.Invent)
		if err != nil {
			return nil, err
		}
		r, err := newRehearsal(w, g, opt, uint64(k))
		if err != nil {
			return nil, fmt.Errorf("event %d: %w", k, err)
		}
		var one []result
		for _, way := range ways {
			x, err := r.play(ctx, way)
			if ctx.Err() != nil {
				break
			}
			if err != nil {
				return nil, fmt.Errorf("event %d, %s: %w", k, way, err)
			}
			one = append(one, x)
		}
		if ctx.Err() != nil {
			break
		}
		for i, x := range one {
			got[i] = append(got[i], x)
		}
		promised += r.promised
	}
	if err := ctx.Err(); err != nil && len(got[0]) < 2 {
		return nil, err
	}
	out := &SelectionReport{Events: len(got[0]), Seed: opt.Seed, Plays: opt.Plays, Promised: promised / float64(len(got[0]))}
	for i, way := range ways {
		s := WayScores{Way: way}
		wins := summary(got[i], got[i], func(a, _ result) float64 { return a.wins })
		s.Wins, s.WinsSE = wins.Mean, wins.SE
		s.Worth = summary(got[i], got[i], func(a, _ result) float64 { return a.worth }).Mean
		s.WinsBehind = summary(got[0], got[i], func(a, b result) float64 { return a.wins - b.wins })
		s.WorthBehind = summary(got[0], got[i], func(a, b result) float64 { return a.worth - b.worth })
		out.Ways = append(out.Ways, s)
	}
	return out, nil
}

// result is what one way brought at one event.
type result struct{ wins, worth float64 }

func summary(a, b []result, what func(a, b result) float64) Difference {
	n := float64(len(a))
	var d Difference
	for i := range a {
		d.Mean += what(a[i], b[i]) / n
	}
	for i := range a {
		d.SE += square(what(a[i], b[i])-d.Mean) / (n - 1) / n
	}
	d.SE = math.Sqrt(d.SE)
	return d
}

// rehearsal is one event whose selection is played several times.
type rehearsal struct {
	w       *generate.World
	g       *game.Game
	opt     SelectionOptions
	seed    uint64
	fit     *contrib.Fit
	board   *selection.Board
	our     record.TeamID
	lists   map[record.TeamID][]record.TeamID // of the other captains
	accepts map[record.TeamID]bool            // whether a captain accepts an invitation
	value   map[string]map[record.TeamID]float64

	// Several ways often come to the same board, and to the same playoff.
	advised  map[string]*record.Advice
	ended    map[string]result
	promised float64 // chance to win that the recommendation gave its last call
}

func newRehearsal(w *generate.World, g *game.Game, opt SelectionOptions, seed uint64) (*rehearsal, error) {
	ev := w.Event(w.Matches())
	r := &rehearsal{w: w, g: g, opt: opt, seed: seed, lists: map[record.TeamID][]record.TeamID{}, accepts: map[record.TeamID]bool{}, value: map[string]map[record.TeamID]float64{},
		advised: map[string]*record.Advice{}, ended: map[string]result{}}
	var err error
	if r.fit, err = contrib.Estimate(ev, contrib.Options{}); err != nil {
		return nil, err
	}
	var ranking []record.TeamID
	for _, p := range standings.Current(ev) {
		ranking = append(ranking, p.Team)
	}
	rules := selection.RulesOf(g.Selection)
	if r.board, err = selection.New(rules, ranking); err != nil {
		return nil, err
	}
	r.our = ranking[int(seed)%min(rules.Alliances, len(ranking))]
	now, rank := map[record.TeamID]float64{}, map[record.TeamID]float64{}
	for i, t := range r.fit.Teams() {
		now[t] = r.fit.Strength(i) * r.fit.Exposure(i)
	}
	for p, t := range ranking {
		rank[t] = -float64(p)
	}
	r.value[ByNow], r.value[ByRank] = now, rank
	for way, name := range map[string]string{ByOPR: contrib.EstimatorLeastSquares, ByAverage: contrib.EstimatorAverages} {
		b, err := contrib.NewBaseline(ev, name)
		if err != nil {
			return nil, err
		}
		r.value[way] = map[record.TeamID]float64{}
		for i, t := range b.Teams() {
			r.value[way][t] = b.Mean(i)
		}
	}
	r.captains(ranking, w.Truth(12))
	return r, nil
}

// How the other captains see robots: plausible choices, no source.
const (
	sight   = 0.5  // standard deviation of their error, in that of the robots' truth
	byRank  = 0.5  // weight of the public ranking
	willing = 0.85 // share of captains who accept an invitation
)

// captains draws the lists of the other captains.
func (r *rehearsal) captains(ranking []record.TeamID, truth *generate.Truth) {
	rng := rand.New(rand.NewPCG(r.opt.Seed, r.seed^0x5e1ec7))
	n := float64(len(truth.Teams))
	var mean, spread float64
	for _, t := range truth.Teams {
		mean += t.Points / n
	}
	for _, t := range truth.Teams {
		spread += square(t.Points-mean) / n
	}
	spread = math.Sqrt(spread)
	place := map[record.TeamID]float64{}
	for p, t := range ranking {
		place[t] = ((n-1)/2 - float64(p)) / math.Sqrt((n*n-1)/12)
		r.accepts[t] = rng.Float64() < willing
	}
	for _, captain := range ranking {
		sees := map[record.TeamID]float64{}
		list := slices.Clone(ranking)
		for _, t := range truth.Teams {
			sees[t.Team] = byRank*place[t.Team] + (1-byRank)*((t.Points-mean)/spread+sight*rng.NormFloat64())
		}
		slices.SortStableFunc(list, func(a, b record.TeamID) int { return cmp.Compare(sees[b], sees[a]) })
		r.lists[captain] = list
	}
}

// play plays the selection with our calls made one way, and then the playoffs.
func (r *rehearsal) play(ctx context.Context, way string) (result, error) {
	b := r.board.Clone()
	for turn, on := b.Turn(); on; turn, on = b.Turn() {
		team, err := r.call(ctx, way, b, turn)
		if err != nil {
			return result{}, err
		}
		m := selection.Move{Captain: turn.Captain, Invites: team, Answer: selection.Accepts}
		switch {
		case team == "":
			m.Answer = selection.NobodyLeft
		case team == r.our || slices.Contains(b.Captains(), team) && !r.accepts[team]:
			m.Answer = selection.Declines // we stay captain: what is compared is our calls
		}
		if err := b.Move(m); err != nil {
			return result{}, err
		}
	}
	return r.playoffs(b.Alliances())
}

// call is whom the captain on the clock invites; "": nobody is left.
func (r *rehearsal) call(ctx context.Context, way string, b *selection.Board, turn selection.Turn) (record.TeamID, error) {
	pool := b.Pool()
	if turn.Captain != r.our {
		for _, t := range r.lists[turn.Captain] {
			if slices.Contains(pool, t) {
				return t, nil
			}
		}
		return "", nil
	}
	if len(pool) == 0 {
		return "", nil
	}
	if way != ByWorth && way != ByTies {
		return slices.MaxFunc(pool, func(x, y record.TeamID) int { return cmp.Compare(r.value[way][x], r.value[way][y]) }), nil
	}
	a, err := r.advice(ctx, b)
	if err != nil {
		return "", err
	}
	call := &a.Candidates[0]
	if way == ByWorth {
		r.promised = call.EventWin
		return call.Team, nil
	}
	for i := range a.Candidates {
		if c := &a.Candidates[i]; c.Tie && c.Points > call.Points {
			call = c
		}
	}
	return call.Team, nil
}

// advice is what the recommendation says where our selection stands.
func (r *rehearsal) advice(ctx context.Context, b *selection.Board) (*record.Advice, error) {
	key := fmt.Sprint(b.Alliances(), b.Declined())
	if a := r.advised[key]; a != nil {
		return a, nil
	}
	e, err := worth.New(r.fit, b, worth.Options{Our: r.our, Seed: r.seed, Workers: 1})
	if err != nil {
		return nil, err
	}
	a, err := e.Refine(ctx, 0, r.opt.Worlds, nil)
	r.advised[key] = a
	return a, err
}

// playoffs plays them by the generator. Every game has a seed of its own, so
// that luck is the same whoever plays.
func (r *rehearsal) playoffs(alliances []selection.Formed) (result, error) {
	key := fmt.Sprint(alliances)
	if x, known := r.ended[key]; known {
		return x, nil
	}
	f, err := bracket.FormatOf(r.g.Playoff, len(alliances))
	if err != nil {
		return result{}, err
	}
	ours := -1
	lineups := make([][]record.TeamID, len(alliances))
	for a, x := range alliances {
		members := append([]record.TeamID{x.Captain}, x.Picks...)
		if slices.Contains(members, r.our) {
			ours = a
		}
		lineups[a] = members[:min(len(members), r.g.Alliance.Robots)]
	}
	var out result
	places := f.Places()
	for k := range r.opt.Plays {
		var broken error
		games := make([]uint64, len(f.Series))
		ended := bracket.Walk(f, nil, func(series, red, blue int) bool {
			for {
				games[series]++
				rng := rand.New(rand.NewPCG(r.opt.Seed^r.seed<<20^uint64(k), uint64(series)<<16|games[series]))
				x, y, err := r.w.Exhibition(rng, lineups[red], lineups[blue])
				if err != nil {
					broken = err
					return true
				}
				if redWins, decided := r.decide(&x, &y); decided || games[series] > 50 {
					return redWins
				}
			}
		}, nil)
		if broken != nil {
			return result{}, broken
		}
		p := places[ended[ours]]
		if p.First == 1 {
			out.wins += 1 / float64(r.opt.Plays)
		}
		for n := p.First; n <= p.Last; n++ {
			out.worth += r.opt.Place(n) / float64(p.Last-p.First+1) / float64(r.opt.Plays)
		}
	}
	r.ended[key] = out
	return out, nil
}

// decide tells who won, ties by the game's order.
func (r *rehearsal) decide(red, blue *game.Scored) (redWins, decided bool) {
	if red.Points != blue.Points {
		return red.Points > blue.Points, true
	}
	if r.g.Playoff != nil {
		for _, id := range r.g.Playoff.TieOrder {
			if red.Components[id] != blue.Components[id] {
				return red.Components[id] > blue.Components[id], true
			}
		}
	}
	return false, false
}
