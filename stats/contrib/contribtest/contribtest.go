// Package contribtest invents small events for the tests of the estimates, the
// forecasts and the backtest. Only tests import it; it imports stats/record
// and stats/game.
//
// Its robots score over-dispersed counts in a game of two count actions and a
// choice; it is neither the model of the estimates nor the full event generator.
package contribtest

import (
	"fmt"
	"math"
	"math/rand/v2"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Options say what to invent. Zero values: no robots, nobody watches.
type Options struct {
	Robots, Matches int
	Watched         float64 // share of robots in matches that a scout watches
	Twice           float64 // share of those that a second scout watches too
	Blank           float64 // share of cells left empty
	Noise           float64 // factor on the scouts' errors; 1: a tenth or so
	Wrong           float64 // share of records of another robot of the match
	Fouls           bool
	Stops           bool
}

// World is an event and the truth about it.
type World struct {
	Event *record.Event
	// Strength is every robot's expected points a match while nothing stops it,
	// in the order of Event.Teams.
	Strength []float64
}

// Game is the game of the invented events.
func Game() *game.Game {
	return &game.Game{
		ID: "marbles", Name: "Marbles", Version: 1, Alliance: game.AllianceSize{Robots: 3},
		Periods: []game.Period{
			{ID: "auto", Name: "Autonomous", Seconds: 15, PauseAfter: 3},
			{ID: "driver", Name: "Driver-controlled", Seconds: 135},
		},
		Actions: []game.Action{
			{ID: "high", Period: "driver", Name: "Marble high", Kind: game.Count, Points: 4, Misses: true},
			{ID: "low", Period: "driver", Name: "Marble low", Kind: game.Count, Points: 2},
			{ID: "park", Period: "driver", Name: "Parking", Kind: game.Choice, Options: []game.Option{
				{ID: "none", Name: "None"}, {ID: "near", Name: "Near", Points: 3}, {ID: "on", Name: "On", Points: 10},
			}},
		},
		Questions: []game.Question{
			{ID: "stood", Name: "Seconds stopped", Kind: "number", When: "match", Role: game.RoleStoppedSeconds},
		},
	}
}

type robot struct{ high, low, hit, park float64 }

// New invents an event; the same source and options give the same.
func New(rng *rand.Rand, o Options) *World {
	w := &World{Event: &record.Event{Game: Game()}}
	robots := make([]robot, o.Robots)
	for i := range robots {
		skill := math.Exp(0.55*rng.NormFloat64() - 0.15)
		robots[i] = robot{
			high: 3.2 * skill * math.Exp(0.3*rng.NormFloat64()), low: 3 * math.Exp(0.4*rng.NormFloat64()),
			hit: 0.55 + 0.4*rng.Float64(), park: math.Min(0.95, 0.45*skill),
		}
		r := robots[i]
		w.Strength = append(w.Strength, 4*r.high+2*r.low+r.parkMean())
		w.Event.Teams = append(w.Event.Teams, record.Team{ID: record.TeamID(fmt.Sprint(101 + i)), Name: fmt.Sprint("Robot ", i+1)})
	}
	var deck []int
	draw := func(taken []int) int {
		for k, r := range deck {
			if !contains(taken, r) {
				deck = append(deck[:k:k], deck[k+1:]...)
				return r
			}
		}
		deck = append(deck, rng.Perm(o.Robots)...)
		for k, r := range deck {
			if !contains(taken, r) {
				deck = append(deck[:k:k], deck[k+1:]...)
				return r
			}
		}
		panic("contribtest: fewer robots than places in a match")
	}
	bias := make([]float64, 6)
	for i := range bias {
		bias[i] = math.Exp(0.06*o.Noise*rng.NormFloat64() - 0.02*o.Noise)
	}
	for n := 1; n <= o.Matches; n++ {
		var taken []int
		for range 6 {
			taken = append(taken, draw(taken))
		}
		m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: n}, Play: 1}
		var did [6]deed
		for k, r := range taken {
			did[k] = robots[r].play(rng, o.Stops)
		}
		for c, a := range []*record.Alliance{&m.Red, &m.Blue} {
			score, fouls := 0.0, 0.0
			for k := 3 * c; k < 3*c+3; k++ {
				a.Teams = append(a.Teams, w.Event.Teams[taken[k]].ID)
				score += did[k].points()
			}
			if o.Fouls {
				for range 3 {
					if rng.Float64() < 0.25 {
						fouls += 4
					}
				}
			}
			a.Result = &record.Result{Score: score + fouls, FromFouls: &fouls}
		}
		w.Event.Matches = append(w.Event.Matches, m)
		for k := range taken {
			if rng.Float64() >= o.Watched {
				continue
			}
			scouts := 1
			if rng.Float64() < o.Twice {
				scouts = 2
			}
			for s := range scouts {
				seen := did[k]
				if rng.Float64() < o.Wrong {
					seen = did[rng.IntN(6)]
				}
				who := (k + 3*s) % 6
				w.Event.Observations = append(w.Event.Observations,
					seen.record(rng, m.ID, w.Event.Teams[taken[k]].ID, who, bias[who], o))
			}
		}
	}
	return w
}

func contains(xs []int, x int) bool {
	for _, y := range xs {
		if y == x {
			return true
		}
	}
	return false
}

func (r robot) parkMean() float64 { return 10*r.park*r.park + 3*(1-r.park*r.park) }

type deed struct {
	high, missed, low float64
	park              string
	stopped           float64
}

func (r robot) play(rng *rand.Rand, stops bool) deed {
	var d deed
	share := 1.0
	if stops && rng.Float64() < 0.08 {
		d.stopped = math.Round(20 + 115*rng.Float64())
		share = 1 - d.stopped/135
	}
	form := math.Exp(0.3*rng.NormFloat64() - 0.045)
	d.high = poisson(rng, r.high*share*form)
	d.missed = poisson(rng, r.high*share*form*(1/r.hit-1))
	d.low = poisson(rng, r.low*share*form)
	d.park = "near"
	if share < 0.5 {
		d.park = "none"
	} else if rng.Float64() < r.park*r.park {
		d.park = "on"
	}
	return d
}

func (d deed) points() float64 {
	return 4*d.high + 2*d.low + map[string]float64{"none": 0, "near": 3, "on": 10}[d.park]
}

func (d deed) record(rng *rand.Rand, id record.MatchID, team record.TeamID, who int, bias float64, o Options) record.Observation {
	count := func(n float64) *float64 {
		v := math.Max(0, math.Round(n*bias+o.Noise*math.Sqrt(0.02*n*n+0.1)*rng.NormFloat64()))
		return &v
	}
	obs := record.Observation{
		Match: id, Play: 1, Team: team, Scout: fmt.Sprintf("s%02d", who+1),
		Counts: map[string]record.Tally{}, Choices: map[string]record.Chosen{},
	}
	if rng.Float64() >= o.Blank {
		obs.Counts["high"] = record.Tally{Made: count(d.high), Missed: count(d.missed)}
	}
	if rng.Float64() >= o.Blank {
		obs.Counts["low"] = record.Tally{Made: count(d.low)}
	}
	if rng.Float64() >= o.Blank {
		obs.Choices["park"] = record.Chosen{Option: d.park}
	}
	if rng.Float64() >= o.Blank {
		stopped := d.stopped
		obs.Answers = map[string]game.Answer{"stood": {Number: &stopped}}
	}
	return obs
}

// poisson by Knuth's product of uniforms; means here are small.
func poisson(rng *rand.Rand, mean float64) float64 {
	limit, p, n := math.Exp(-mean), 1.0, 0.0
	for {
		if p *= rng.Float64(); p <= limit {
			return n
		}
		n++
	}
}
