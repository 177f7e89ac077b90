package check

import (
	"cmp"
	"math"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Jump says that a robot seems to be another from one of its matches on.
type Jump struct {
	Team  record.TeamID  `json:"team"`
	Match record.MatchID `json:"match"` // the first in which it seems to be another
	// Through is the last match that was looked at: who says that nothing changed,
	// says it of all matches up to this one.
	Through record.MatchID `json:"through"`
	// Action is what changed most clearly; "" the points of all counted actions together.
	Action string `json:"action,omitempty"`
	Option string `json:"option,omitempty"` // of a choice: Before and After are the shares of matches in which it was reached
	// Before and After are units (points, without Action) a match in which nothing
	// stops the robot, as records have it.
	Before float64 `json:"before"`
	After  float64 `json:"after"`
	// Probability that the robot changed at all, as it came true on invented events.
	Probability float64 `json:"probability"`
}

// What is believed of changes before anything was seen; plausible, none is
// measured at a real event. See stats/check.md for what comes of it.
const (
	jumpChance = 0.01 // that a robot is another from a given one of its matches on
	jumpWhole  = 0.4  // of these: everything goes better or worse; else one action alone
	jumpLog    = 0.7  // SD of the log of an action's rate after over before
	jumpPoints = 0.45 // SD of what all together gains or loses, in mean points of a robot
	jumpDead   = 0.25 // of changes of an action: it works no more; as many: it works at last
	jumpStray  = 0.04 // of rows that are another robot's, or nonsense
	jumpSide   = 2    // matches on either side of a change, at least
	jumpGrid   = 40   // values of a rate that are looked at
)

// JumpSuggest is from which probability on a change is worth asking a lead about:
// most such questions were worth it, on invented events.
const JumpSuggest = 0.7

// Jumps are the robots that most likely changed during the event since the last
// mark on them, in order of number, with the most likely match.
//
// For each action, and for the points of everything together, the likelihood of
// what records say of the robot's matches under one rate is put against that
// under one rate before and another after each match: a Bayes factor for one
// change point, rates integrated out (Smith 1975, Biometrika 62,
// doi:10.1093/biomet/62.2.407). Each is the product of what would have been
// foretold of every match from those before it (Dawid 1984,
// doi:10.2307/2981683), so it is walk-forward by itself. Counts scatter by the
// negative binomial law of the event's profiles, points by the estimate's own
// luck of matches, and one row in 25 may be of any robot. fit nil: nothing can be
// said.
func Jumps(ev *record.Event, fit *contrib.Fit, opt Options) []Jump {
	return layTable(ev, opt).jumps(fit)
}

// watchedPlay is a match of a robot that somebody watched.
type watchedPlay struct {
	play int
	vals []float64 // mean over the rows of the seat; NaN: not watched
	w    float64
	n    float64 // rows
}

// suggested are the jumps that are worth asking about.
func (t *table) suggested(fit *contrib.Fit) []Jump {
	return slices.DeleteFunc(t.jumps(fit), func(j Jump) bool { return j.Probability < JumpSuggest })
}

func (t *table) jumps(fit *contrib.Fit) []Jump {
	out := []Jump{}
	if fit == nil {
		return out
	}
	seen := make([][]watchedPlay, len(t.teams))
	for i := range t.plays {
		for s, robot := range t.plays[i].seats {
			if robot >= 0 && !t.plays[i].absent[s] {
				if v, ok := t.meanRow(i, s); ok {
					seen[robot] = append(seen[robot], v)
				}
			}
		}
	}
	j := &jumper{t: t, fit: fit}
	j.lay()
	for robot, plays := range seen {
		if x, ok := j.look(robot, plays); ok {
			out = append(out, x)
		}
	}
	return out
}

// meanRow is what the rows of a seat say on average.
func (t *table) meanRow(play, seat int) (watchedPlay, bool) {
	v := watchedPlay{play: play, vals: slices.Repeat([]float64{math.NaN()}, len(t.cells))}
	counts := make([]float64, len(t.cells))
	for _, id := range t.plays[play].rows[seat] {
		r := t.rows[id]
		if !r.usable() {
			continue
		}
		v.n++
		v.w += r.w
		for k, x := range r.vals {
			if math.IsNaN(x) {
				continue
			}
			if counts[k]++; counts[k] == 1 || t.cells[k].kind != countCell {
				v.vals[k] = x // of a choice: what the last of them said
			} else {
				v.vals[k] += (x - v.vals[k]) / counts[k]
			}
		}
	}
	if v.n == 0 {
		return v, false
	}
	v.w /= v.n
	return v, true
}

// points of all actions of a match; what was left empty is as usual for the robot.
func (j *jumper) points(robot int, v *watchedPlay) float64 {
	x := j.t.profiles.of(robot, -1)
	var sum float64
	for k := range j.t.cells {
		c := &j.t.cells[k]
		if c.action < 0 || c.missed || c.kind != countCell {
			continue
		}
		val := v.vals[k]
		switch {
		case c.option != nil && math.IsNaN(val):
			for o, p := range x.chance[k] {
				sum += p * c.option[o]
			}
		case c.option != nil:
			sum += c.option[min(max(0, int(val)), len(c.option)-1)]
		case math.IsNaN(val) && c.kind == flagCell:
			sum += c.points * x.chance[k][1]
		case math.IsNaN(val):
			sum += c.points * x.rate[k] * v.exposed(c)
		default:
			sum += c.points * val
		}
	}
	return sum
}

func (v *watchedPlay) exposed(c *cell) float64 {
	if c.timed {
		return v.w
	}
	return 1
}

// change is what speaks for a change in one respect.
type change struct {
	cell   int       // −1: everything together
	ratios []float64 // log Bayes factor by position: the first match after
}

// look looks for the change of one robot.
func (j *jumper) look(robot int, plays []watchedPlay) (Jump, bool) {
	team := j.t.teams[robot]
	said, same := j.marks(team)
	plays = slices.DeleteFunc(slices.Clone(plays), func(v watchedPlay) bool {
		return said != nil && j.t.plays[v.play].match.ID.Compare(*said) < 0
	})
	n := len(plays)
	first := jumpSide
	for first < n && same != nil && j.t.plays[plays[first].play].match.ID.Compare(*same) <= 0 {
		first++
	}
	if first > n-jumpSide {
		return Jump{}, false
	}
	changes := []change{{-1, j.together(robot, plays)}}
	for _, k := range j.cells {
		if varies(plays, k) {
			changes = append(changes, change{k, j.of(k, plays)})
		}
	}
	// Posterior over what changed and when, against that nothing did.
	var odds float64
	best, at, top := 0, 0, math.Inf(-1)
	single := (1 - jumpWhole) / float64(max(1, len(changes)-1))
	for i, c := range changes {
		share := single
		if c.cell < 0 {
			share = jumpWhole
		}
		for pos := first; pos <= n-jumpSide; pos++ {
			l := math.Log(jumpChance*share) + c.ratios[pos]
			odds += math.Exp(math.Min(l, 50))
			if l > top {
				top, best, at = l, i, pos
			}
		}
	}
	p := odds / (odds + 1)
	if !j.t.opt.Raw {
		p = jumpCalibration.of(p)
	}
	out := Jump{Team: team, Match: j.t.plays[plays[at].play].match.ID, Through: j.t.plays[plays[n-1].play].match.ID, Probability: p}
	j.describe(&out, robot, plays, changes[best].cell, at)
	return out, true
}

// varies reports whether an action was not the same in all matches: one that was
// cannot be what changed.
func varies(plays []watchedPlay, k int) bool {
	first := math.NaN()
	for i := range plays {
		x := plays[i].vals[k]
		if math.IsNaN(first) {
			first = x
		}
		if !math.IsNaN(x) && x != first {
			return true
		}
	}
	return false
}

// marks are the match from which on a robot is known to be another, and the one
// up to which somebody said that nothing changed; nil: none.
func (j *jumper) marks(team record.TeamID) (said, same *record.MatchID) {
	for i := range j.t.ev.Marks {
		m := &j.t.ev.Marks[i]
		if m.Team != team || m.Discarded {
			continue
		}
		into := &said
		if m.Kind == record.MarkNoChange {
			into = &same
		}
		if *into == nil || m.Match.Compare(**into) > 0 {
			*into = &m.Match
		}
	}
	return said, same
}

// describe says what changed in numbers.
func (j *jumper) describe(out *Jump, robot int, plays []watchedPlay, k, at int) {
	mean := func(list []watchedPlay, value func(*watchedPlay) (float64, float64)) float64 {
		var x, w float64
		for i := range list {
			a, b := value(&list[i])
			x, w = x+a, w+b
		}
		return x / math.Max(w, 1e-9)
	}
	value := func(v *watchedPlay) (float64, float64) { return j.points(robot, v), v.w }
	if k >= 0 {
		c := &j.t.cells[k]
		out.Action = c.id
		value = func(v *watchedPlay) (float64, float64) {
			if math.IsNaN(v.vals[k]) {
				return 0, 0
			}
			return v.vals[k], v.exposed(c)
		}
		if c.kind == choiceCell {
			reached := func(o int) func(v *watchedPlay) (float64, float64) {
				return func(v *watchedPlay) (float64, float64) {
					if math.IsNaN(v.vals[k]) {
						return 0, 0
					}
					return is(int(v.vals[k]) == o), 1
				}
			}
			option := slices.MaxFunc(seq(len(c.names)), func(a, b int) int {
				apart := func(o int) float64 {
					return math.Abs(mean(plays[:at], reached(o)) - mean(plays[at:], reached(o)))
				}
				return cmp.Or(cmp.Compare(apart(a), apart(b)), cmp.Compare(c.option[a], c.option[b]))
			})
			out.Option = c.names[option]
			value = reached(option)
		}
	}
	out.Before, out.After = mean(plays[:at], value), mean(plays[at:], value)
}

func seq(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func is(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
