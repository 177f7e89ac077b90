package contribtest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Cycles is a world of another nature than both the model and the event
// generator: robots drive second by second between one loading place per
// alliance, where they stand in line, and the goals; the marbles of an alliance
// run out; some robots are rebuilt overnight, some break down for the rest of a
// match; scouts lose their attention for a while and see little of it. Nothing
// was tuned on it.
type Cycles struct {
	Event *record.Event
	// Points is what each robot adds to its alliance's score per match on
	// average over the matches it plays, in the order of Event.Teams.
	Points []float64
	// Oracle has, by match of Event.Matches, the mean and the standard
	// deviation of each alliance's score and the chances of red and of a tie
	// for somebody who knows every robot and not the luck of the day.
	Oracle []CyclesOracle
}

// CyclesOracle is the truth about one match; the quantiles are of 80 %.
type CyclesOracle struct {
	Red, Blue record.ScoreSpread
	Chance    record.Chance
}

// CyclesOptions say how large the event is, who watches, and how often each
// match is played over to know the truth.
type CyclesOptions struct {
	Robots, Matches int
	Watched         float64
	Runs            int
}

// driver is a robot of this world with whoever drives it.
type driver struct {
	speed     float64 // factor on all driving times, below 1 is fast
	grab      float64 // chance a second to have a marble once it is at the source
	aim       float64 // share of high throws that hit
	high      float64 // chance to go for the high goal
	climb     float64 // chance that the climb works
	climbs    bool
	breaks    float64 // chance a second to stop for good
	stalls    float64 // chance a second to stall for a while
	overnight float64 // factor on speed after half of the matches
}

type watcher struct {
	lapse, wake float64 // chances a second to lose attention and to find it again
	sees        float64 // share seen while attentive
	wrong       float64 // chance of watching another robot of the alliance
}

const (
	cyclesSeconds = 135
	cyclesPile    = 26 // marbles an alliance can fetch quickly
)

// NewCycles invents an event; the same source and options give the same.
func NewCycles(rng *rand.Rand, o CyclesOptions) *Cycles {
	drivers := make([]driver, o.Robots)
	w := &Cycles{Event: &record.Event{Game: Game()}, Points: make([]float64, o.Robots)}
	for i := range drivers {
		drivers[i] = newDriver(rng)
		w.Event.Teams = append(w.Event.Teams, record.Team{ID: record.TeamID(fmt.Sprint(101 + i)), Name: fmt.Sprint("Robot ", i+1)})
	}
	watchers := make([]watcher, 12)
	for k := range watchers {
		watchers[k] = watcher{
			lapse: 0.004 * math.Exp(0.6*rng.NormFloat64()), wake: 0.12,
			sees: 0.98 - 0.04*rng.Float64(), wrong: 0.006 * math.Exp(0.8*rng.NormFloat64()),
		}
	}
	var deck []int
	counts := make([]float64, o.Robots)
	for n := range o.Matches {
		var six []int
		for len(six) < 6 {
			at := slices.IndexFunc(deck, func(r int) bool { return !slices.Contains(six, r) })
			if at < 0 {
				deck = append(deck, rng.Perm(o.Robots)...)
				continue
			}
			six = append(six, deck[at])
			deck = slices.Delete(deck, at, at+1)
		}
		var here [6]driver
		for k, r := range six {
			here[k] = drivers[r]
			if n >= o.Matches/2 {
				here[k].speed *= here[k].overnight
			}
		}
		var red, blue []float64
		var chance record.Chance
		for range o.Runs {
			var scores [2]float64
			for c := range 2 {
				for k, d := range cyclesAlliance(rng, here[3*c:3*c+3]) {
					w.Points[six[3*c+k]] += d.points()
					counts[six[3*c+k]]++
					scores[c] += d.points()
				}
			}
			red, blue = append(red, scores[0]), append(blue, scores[1])
			switch {
			case scores[0] > scores[1]:
				chance.Red += 1 / float64(o.Runs)
			case scores[0] < scores[1]:
				chance.Blue += 1 / float64(o.Runs)
			default:
				chance.Tie += 1 / float64(o.Runs)
			}
		}
		if o.Runs > 1 {
			w.Oracle = append(w.Oracle, CyclesOracle{Red: spreadOf(red), Blue: spreadOf(blue), Chance: chance})
		}
		m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: n + 1}, Play: 1}
		for c, a := range []*record.Alliance{&m.Red, &m.Blue} {
			did := cyclesAlliance(rng, here[3*c:3*c+3])
			score := 0.0
			for k := range did {
				a.Teams = append(a.Teams, w.Event.Teams[six[3*c+k]].ID)
				score += did[k].points()
			}
			zero := 0.0
			a.Result = &record.Result{Score: score, FromFouls: &zero}
			for k := range did {
				who := (3*c + k + n) % 6
				if n/8%2 == 1 {
					who += 6
				}
				if s := watchers[who]; rng.Float64() < o.Watched {
					at := k
					if rng.Float64() < s.wrong {
						at = (k + 1 + rng.IntN(2)) % 3
					}
					w.Event.Observations = append(w.Event.Observations, s.watch(rng, m.ID, a.Teams[k], who, did[at]))
				}
			}
		}
		w.Event.Matches = append(w.Event.Matches, m)
	}
	for i := range w.Points {
		w.Points[i] /= math.Max(1, counts[i])
	}
	return w
}

func newDriver(rng *rand.Rand) driver {
	skill := rng.NormFloat64()
	d := driver{
		speed: math.Exp(-0.28*skill + 0.15*rng.NormFloat64()),
		grab:  0.12 + 0.5/(1+math.Exp(-skill-0.8*rng.NormFloat64())),
		aim:   1 / (1 + math.Exp(-0.6-0.5*skill-0.5*rng.NormFloat64())),
		high:  1 / (1 + math.Exp(-0.4-0.9*skill-rng.NormFloat64())),
		climb: 1 / (1 + math.Exp(-0.9-0.6*skill-0.7*rng.NormFloat64())),

		climbs:    rng.Float64() < 1/(1+math.Exp(-0.3-skill)),
		breaks:    0.0004 * math.Exp(0.9*rng.NormFloat64()-0.4*skill),
		stalls:    0.0008 * math.Exp(0.6*rng.NormFloat64()),
		overnight: 1,
	}
	if rng.Float64() < 0.3 {
		d.overnight = math.Exp(-0.05 + 0.2*rng.NormFloat64())
	}
	return d
}

// cyclesDid is what a robot did, second by second.
type cyclesDid struct {
	high, missed, low []int // seconds at which it happened
	park              string
	stopped           float64
}

func (d cyclesDid) points() float64 {
	return deed{high: float64(len(d.high)), low: float64(len(d.low)), park: d.park}.points()
}

// cyclesAlliance plays a match of one alliance.
func cyclesAlliance(rng *rand.Rand, robots []driver) []cyclesDid {
	const (
		out = iota // on its way to the source
		line
		back
		climbing
		dead
	)
	type state struct {
		at   int
		left float64 // seconds that the current leg still takes
		form float64
	}
	states, did := make([]state, len(robots)), make([]cyclesDid, len(robots))
	for i := range states {
		states[i] = state{at: back, left: 3 + 3*rng.Float64(), form: math.Exp(0.12 * rng.NormFloat64())}
		did[i].park = "near"
	}
	served, pile := -1, cyclesPile // who stands at the source, and what lies near it
	for t := range cyclesSeconds {
		for i := range robots {
			r, s, d := &robots[i], &states[i], &did[i]
			if s.at == dead {
				d.stopped++
				continue
			}
			if rng.Float64() < r.breaks {
				s.at = dead
				d.park = "none"
				if served == i {
					served = -1
				}
				continue
			}
			if rng.Float64() < r.stalls {
				pause := 5 + 15*rng.Float64()
				s.left += pause
				d.stopped += math.Min(pause, float64(cyclesSeconds-t))
			}
			if t >= cyclesSeconds-18 && s.at != climbing && r.climbs {
				if served == i {
					served = -1
				}
				s.at, s.left = climbing, 7*r.speed*s.form+4*rng.ExpFloat64()
			}
			if s.left--; s.left > 0 {
				continue
			}
			switch s.at {
			case out:
				s.at = line
			case line:
				if served < 0 {
					served = i
				}
				catch := r.grab
				if pile <= 0 {
					catch *= 0.3
				}
				if served == i && rng.Float64() < catch {
					served = -1
					pile--
					s.at, s.left = back, r.speed*s.form*(3.5+2*rng.Float64())
				}
			case back:
				switch {
				case rng.Float64() >= r.high:
					d.low = append(d.low, t)
				case rng.Float64() < r.aim:
					d.high = append(d.high, t)
				default:
					d.missed = append(d.missed, t)
				}
				s.at, s.left = out, r.speed*s.form*(4+3*rng.Float64())
			case climbing:
				if d.park == "near" && rng.Float64() < r.climb {
					d.park = "on"
				}
				s.left = cyclesSeconds
			}
		}
	}
	return did
}

// watch is a scout's record.
func (s watcher) watch(rng *rand.Rand, id record.MatchID, team record.TeamID, who int, d cyclesDid) record.Observation {
	attentive := make([]bool, cyclesSeconds)
	now := true
	for t := range attentive {
		if now {
			now = rng.Float64() >= s.lapse
		} else {
			now = rng.Float64() < s.wake
		}
		attentive[t] = now
	}
	count := func(at []int, share float64) *float64 {
		var n float64
		for _, t := range at {
			p := s.sees * share
			if !attentive[t] {
				p = 0.25
			}
			if rng.Float64() < p {
				n++
			}
		}
		return &n
	}
	stopped := math.Round(d.stopped/5*(1+0.1*rng.NormFloat64())) * 5
	return record.Observation{
		Match: id, Play: 1, Team: team, Scout: fmt.Sprintf("s%02d", who+1),
		Counts: map[string]record.Tally{
			"high": {Made: count(d.high, 1), Missed: count(d.missed, 0.9)}, "low": {Made: count(d.low, 1)},
		},
		Choices: map[string]record.Chosen{"park": {Option: d.park}},
		Answers: map[string]game.Answer{"stood": {Number: &stopped}},
	}
}

func spreadOf(scores []float64) (s record.ScoreSpread) {
	n := float64(len(scores))
	for _, x := range scores {
		s.Mean += x / n
	}
	for _, x := range scores {
		s.SD += square(x-s.Mean) / (n - 1)
	}
	s.SD = math.Sqrt(s.SD)
	sorted := slices.Sorted(slices.Values(scores))
	s.P10, s.P90 = sorted[int(0.1*(n-1))], sorted[int(math.Ceil(0.9*(n-1)))]
	return s
}

func square(x float64) float64 { return x * x }
