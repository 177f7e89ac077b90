package generate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// scout is a student with a tablet.
type scout struct {
	name    string
	sees    float64 // share of makes that get counted
	misses  float64 // share of misses that get counted; always lower
	fouls   float64 // share of fouls that get noticed; lower still
	twice   float64 // share that gets counted twice
	lapses  float64 // expected moments of looking away, a match
	slips   float64 // weight of the rarer mistakes; 1 for a careful scout
	away    [2]int  // matches during which the scout is gone: from, to
	careful bool
	tires   float64 // by how much all that goes wrong grows with each match without a break, as a share
}

// Mistake is one thing that went wrong in the stands. Kinds are those of the
// contract's check: swap, wrong_robot, period, missing, and outlier where the
// scout lost sight of the robot early and the game asks for no word about it.
type Mistake struct {
	Match  record.MatchID  `json:"match"`
	Kind   string          `json:"kind"`
	Teams  []record.TeamID `json:"teams"`
	Scouts []string        `json:"scouts"`
}

// Plausible chances of the rarer mistakes, for a careful scout and Mistakes 1.
const (
	slipSwap   = 0.010 // an alliance's two scouts exchange their robots
	slipRobot  = 0.006 // watches another robot of the alliance
	slipPeriod = 0.015 // counts the first period into a later one
	slipBlank  = 0.020 // leaves an action empty
	slipLost   = 0.010 // loses sight of the robot for the rest
	slipChoice = 0.012 // one rung too high or too low
)

func newScout(rng *rand.Rand, name string, matches int, opt *Options) scout {
	s := scout{name: name, careful: rng.Float64() >= opt.Careless, slips: opt.Mistakes}
	m := opt.Mistakes
	dull := math.Abs(0.03 + 0.02*rng.NormFloat64())
	if !s.careful {
		dull, s.slips = 0.09+0.06*rng.Float64(), 4*m
	}
	s.sees = max(0.5, 1-dull*m)
	s.misses = max(0.3, 1-(2.5*dull+0.05)*m)
	s.fouls = max(0.3, s.sees-0.2*m)
	s.twice = dull * rng.Float64() * m
	s.lapses = 6 * dull * m
	s.away = [2]int{matches, matches}
	if rng.Float64() < 0.25*m {
		s.away[0] = rng.IntN(matches)
		s.away[1] = s.away[0] + 5 + rng.IntN(8)
	}
	return s
}

// watch returns what the scouts wrote about a match, in the order of stations,
// and what went wrong.
func (w *World) watch(rng *rand.Rand, index int, m *record.Match, p *played) ([]record.Observation, []Mistake) {
	teams := slices.Concat(m.Red.Teams, m.Blue.Teams)
	seats, size := len(teams), len(m.Red.Teams)
	var out []record.Observation
	var wrong []Mistake
	watched := make([]int, seats) // whom the seat's scout really looks at
	for r := range watched {
		watched[r] = r
	}
	onDuty := func(seat int) *scout { // nil: nobody
		if len(w.scouts) == 0 {
			return nil
		}
		place := (seat + index) % seats
		if place >= len(w.scouts) {
			return nil
		}
		return &w.scouts[(index/shift*seats+place)%len(w.scouts)]
	}
	for s := range 2 {
		a, b := s*size, s*size+1+rng.IntN(max(1, size-1))
		x, y := onDuty(a), onDuty(min(b, seats-1))
		if size < 2 || x == nil || y == nil || rng.Float64() >= slipSwap*max(x.slips, y.slips) {
			continue
		}
		watched[a], watched[b] = b, a
		wrong = append(wrong, Mistake{m.ID, "swap", []record.TeamID{teams[a], teams[b]}, []string{x.name, y.name}})
	}
	for r := range seats {
		s := onDuty(r)
		if s == nil || index >= s.away[0] && index < s.away[1] || rng.Float64() >= w.opt.Watched {
			wrong = append(wrong, Mistake{Match: m.ID, Kind: "missing", Teams: []record.TeamID{teams[r]}, Scouts: []string{}})
			continue
		}
		at := watched[r]
		if at == r && size > 1 && rng.Float64() < slipRobot*s.slips {
			at = r/size*size + (r%size+1+rng.IntN(size-1))%size
			wrong = append(wrong, Mistake{m.ID, "wrong_robot", []record.TeamID{teams[r], teams[at]}, []string{s.name}})
		}
		note := func(name, slip string) {
			if slip != "" {
				wrong = append(wrong, Mistake{m.ID, slip, []record.TeamID{teams[r]}, []string{name}})
			}
		}
		o, slip := w.write(rng, s.after(w.onDuty(index, seats)), m.ID, teams[r], &p.robots[at])
		note(s.name, slip)
		w.show(&o, r < size, teams[at])
		out = append(out, o)
		if second := &w.scouts[rng.IntN(len(w.scouts))]; rng.Float64() < w.opt.Double && !busy(out, second.name) && !w.due(onDuty, seats, second) {
			o, slip := w.write(rng, second, m.ID, teams[r], &p.robots[r])
			note(second.name, slip)
			w.show(&o, r < size, teams[r])
			out = append(out, o)
		}
	}
	return out, wrong
}

// shift is how many matches a scout sits through before the next one takes over.
const shift = 8

func busy(out []record.Observation, name string) bool {
	return slices.ContainsFunc(out, func(o record.Observation) bool { return o.Scout == name })
}

func (w *World) due(onDuty func(int) *scout, seats int, s *scout) bool {
	for r := range seats {
		if onDuty(r) == s {
			return true
		}
	}
	return false
}

// lostEarly is the share of a robot's deeds from which on not having seen them,
// for having lost sight of it, is a mistake of its own.
const lostEarly = 0.5

// write is one scout's record of one robot; slip is the kind of a mistake in
// it: period when the first period was counted into a later one, outlier when
// sight was lost early.
func (w *World) write(rng *rand.Rand, s *scout, id record.MatchID, team record.TeamID, d *doing) (o record.Observation, slip string) {
	o = record.Observation{Match: id, Play: 1, Team: team, Scout: s.name}
	if d.absent {
		o.Absent = true
		return o, ""
	}
	n := notes{w: w, o: &o, counts: make([]record.Tally, len(w.course.acts)), lost: w.course.end}
	for k := range w.course.acts {
		a := &w.course.acts[k]
		if !a.ByAlliance() && a.Kind != game.Choice {
			n.counts[k].Made = new(float64)
			if a.Misses {
				n.counts[k].Missed = new(float64)
			}
		}
	}
	var away []span
	for range poisson(rng, s.lapses) {
		from := rng.Float64() * w.course.end
		away = append(away, span{from, from + 4 + 8*rng.Float64()})
	}
	if rng.Float64() < slipLost*s.slips {
		n.lost = rng.Float64() * w.course.end
	}
	into := w.later(rng, s)
	unseen := 0.0
	for _, e := range d.deeds {
		if e.at >= n.lost {
			unseen++
		}
		seen := s.sees
		if e.missed {
			seen = s.misses
		}
		if e.at >= n.lost || slices.ContainsFunc(away, func(a span) bool { return e.at >= a.from && e.at < a.to }) || rng.Float64() >= seen {
			continue
		}
		if k := into[e.act]; k != e.act {
			e.act, slip = k, "period"
		}
		n.tap(rng, e)
		if rng.Float64() < s.twice && w.course.acts[e.act].Kind == game.Count {
			n.tap(rng, e)
		}
	}
	n.finish(rng, s, d, len(away) > 0)
	if _, asked := w.course.g.QuestionByRole(game.RoleLostSight); !asked && slip == "" && unseen > 0 && unseen >= lostEarly*float64(len(d.deeds)) {
		slip = "outlier"
	}
	return o, slip
}

// later maps each action to the one it is counted as: itself, or, when the
// scout forgot to switch, its namesake of a later period.
func (w *World) later(rng *rand.Rand, s *scout) []int {
	into := make([]int, len(w.course.acts))
	slip := rng.Float64() < slipPeriod*s.slips
	for k := range into {
		into[k] = k
		a := &w.course.acts[k]
		for j := range w.course.acts {
			b := &w.course.acts[j]
			if slip && j != k && b.Name != "" && b.Name == a.Name && b.Kind == a.Kind && !b.ByAlliance() && b.from >= a.to {
				into[k] = j
			}
		}
	}
	return into
}

// notes is a record while it is written.
type notes struct {
	w      *World
	o      *record.Observation
	counts []record.Tally
	lost   float64 // when the scout lost sight of the robot
}

// tap counts one deed.
func (n *notes) tap(rng *rand.Rand, e deed) {
	a := &n.w.course.acts[e.act]
	tally, id := n.counts[e.act].Made, a.ID
	if e.missed {
		if tally, id = n.counts[e.act].Missed, a.ID+"_missed"; tally == nil {
			return
		}
	}
	late := int(1000 * (e.at + 0.2 + 0.8*rng.Float64()))
	if a.Kind == game.Flag && *tally > 0 {
		return
	}
	units := e.units
	if a.Kind == game.Volume {
		units = math.Max(1, math.Round(units*math.Exp(0.2*n.w.opt.Mistakes*rng.NormFloat64())))
	}
	for _, step := range batches(a, units) {
		*tally += step
		if n.w.opt.Timeline {
			n.o.Taps = append(n.o.Taps, record.Tap{MS: late, Action: id, Step: step})
		}
	}
}

// batches splits units into presses of a volume's buttons, largest first.
func batches(a *act, units float64) []float64 {
	if a.Kind != game.Volume || len(a.Steps) == 0 {
		return []float64{units}
	}
	steps := slices.Sorted(slices.Values(a.Steps))
	slices.Reverse(steps)
	var out []float64
	for i, step := range steps {
		if i == len(steps)-1 && len(out) == 0 {
			units = max(units, float64(step))
		}
		for ; units >= float64(step); units -= float64(step) {
			out = append(out, float64(step))
		}
	}
	return out
}

// finish writes the counts down, and the choices, fouls and answers.
func (n *notes) finish(rng *rand.Rand, s *scout, d *doing, lookedAway bool) {
	c, o := n.w.course, n.o
	slices.SortStableFunc(o.Taps, func(a, b record.Tap) int { return a.MS - b.MS })
	o.Counts, o.Choices, o.Fouls, o.Answers = map[string]record.Tally{}, map[string]record.Chosen{}, map[string]float64{}, map[string]game.Answer{}
	for k := range c.acts {
		a := &c.acts[k]
		blank := rng.Float64() < slipBlank*s.slips
		switch {
		case a.ByAlliance():
		case a.Kind == game.Choice:
			got, ok := d.choices[k]
			if !ok || blank || n.lost < a.to {
				continue
			}
			rung := slices.Index(a.ladder, got.option)
			if rng.Float64() < slipChoice*s.slips {
				rung = min(max(rung+1-2*rng.IntN(2), 0), len(a.ladder)-1)
			}
			chosen := record.Chosen{Option: a.Options[a.ladder[rung]].ID}
			if a.Tried {
				tried := got.tried
				chosen.Tried = &tried
			}
			o.Choices[a.ID] = chosen
		case blank:
			o.Taps = slices.DeleteFunc(o.Taps, func(t record.Tap) bool { return t.Action == a.ID || t.Action == a.ID+"_missed" })
		default:
			o.Counts[a.ID] = n.counts[k]
		}
	}
	for f, times := range d.fouls {
		seen := 0.0
		for range times {
			if rng.Float64() < s.fouls {
				seen++
			}
		}
		o.Fouls[c.g.Fouls[f].ID] = seen
	}
	for i := range c.g.Questions {
		if q := &c.g.Questions[i]; q.When == "match" {
			if a, ok := n.answer(rng, s, q, d, lookedAway); ok {
				o.Answers[q.ID] = a
			}
		}
	}
	stood := d.stopped.seconds() > 20 && rng.Float64() < 0.6
	if o.Note = n.phrase(); o.Note == "" && stood {
		o.Note = fmt.Sprintf("stood still from second %d on", int(d.stopped.from))
	}
}

// phrase is one of the game file's phrases, or mostly none. It is drawn apart,
// so that a game file with other phrases gives the same event.
func (n *notes) phrase() string {
	phrases := n.w.course.g.Phrases
	if len(phrases) == 0 {
		return ""
	}
	rng := n.w.apart(n.o.Key())
	if rng.Float64() >= 0.08 {
		return ""
	}
	return phrases[rng.IntN(len(phrases))]
}

// answer is what the scout says to a question of the game file.
func (n *notes) answer(rng *rand.Rand, s *scout, q *game.Question, d *doing, lookedAway bool) (game.Answer, bool) {
	guess := func(seconds float64) (game.Answer, bool) { // to the nearest five seconds
		v := 5 * math.Round(seconds*(1+0.15*rng.NormFloat64())/5)
		v = max(v, 0)
		if q.Min != nil {
			v = max(v, *q.Min)
		}
		if q.Max != nil {
			v = min(v, *q.Max)
		}
		return game.Answer{Number: &v}, true
	}
	main := func(s span) float64 { // the part that falls into the longest period
		return max(0, min(s.to, n.w.course.main.to)-max(s.from, n.w.course.main.from))
	}
	switch q.Role {
	case game.RoleStartPosition:
		if d.start < 0 || d.start >= len(q.Options) || rng.Float64() < 0.03*s.slips {
			return game.Answer{}, false
		}
		return game.Answer{Text: &q.Options[d.start]}, true
	case game.RoleStoppedSeconds:
		return guess(main(d.stopped))
	case game.RoleDefendingSeconds:
		return guess(d.defending.seconds())
	case game.RoleFeedingSeconds:
		return guess(d.feeding)
	case game.RoleLostSight:
		lost := n.lost < n.w.course.end || lookedAway && rng.Float64() < 0.2
		return game.Answer{Flag: &lost}, true
	}
	switch q.Kind {
	case "flag":
		yes := rng.Float64() < 0.2
		return game.Answer{Flag: &yes}, true
	case "choice":
		if len(q.Options) > 0 {
			return game.Answer{Text: &q.Options[rng.IntN(len(q.Options))]}, true
		}
	case "number":
		return guess(10 * rng.Float64())
	}
	return game.Answer{}, false
}
