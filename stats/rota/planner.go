package rota

import (
	"math"
	"slices"

	"sextant/stats/record"
)

// mostRobots bounds the sets of robots of one match that are gone through.
const mostRobots = 8

// carelessness is the variance of a scout's count of what a robot did, as a
// share of the variance of what it does from match to match: about
// (r₀² + r₁²)/(φ₀² + φ₁²) at the medians of stats/contrib/fused.
const carelessness = 0.1

// nobody is who sits nowhere in a match.
const nobody = -1

// fixture is a match as the planner sees it.
type fixture struct {
	id     record.MatchID
	robots []int // red, then blue
	red    int   // how many of them are red
	ours   bool
}

// planner holds a plan while it is made.
type planner struct {
	req     *Request
	matches []fixture
	robots  []Robot
	our     int
	unit    float64 // points² of one average robot
	duty    [][]bool
	watch   [][]int // by match and person: a place of the match, or nobody
	kept    [][]int
	forbid  []int // by person: the robot not to watch
	scratch struct {
		v     []float64
		seen  []int
		first []int
		met   []bool // by person and robot
		twice []bool // by person and person
	}
}

func newPlanner(req *Request) (*planner, error) {
	if err := req.check(); err != nil {
		return nil, err
	}
	p := &planner{req: req, our: nobody}
	index := map[record.TeamID]int{}
	for _, r := range req.Robots {
		index[r.Team] = len(p.robots)
		p.robots = append(p.robots, r)
		p.unit += r.Var / float64(len(req.Robots))
	}
	if p.unit <= 0 {
		p.unit = 1
	}
	of := func(t record.TeamID) int {
		i, ok := index[t]
		if !ok {
			i = len(p.robots)
			index[t] = i
			p.robots = append(p.robots, Robot{Team: t, Var: p.unit, Luck: 0.6 * p.unit, List: 0.5})
		}
		return i
	}
	for i := range req.Matches {
		m := &req.Matches[i]
		f := fixture{id: m.ID, red: len(m.Red.Teams)}
		for _, t := range slices.Concat(m.Red.Teams, m.Blue.Teams) {
			f.robots = append(f.robots, of(t))
			f.ours = f.ours || t == req.Our
		}
		p.matches = append(p.matches, f)
	}
	if i, ok := index[req.Our]; ok {
		p.our = i
	}
	for i := range req.People {
		k, ok := index[req.People[i].Not]
		if !ok {
			k = nobody
		}
		p.forbid = append(p.forbid, k)
	}
	n := len(req.People)
	for range p.matches {
		p.duty = append(p.duty, make([]bool, n))
		p.watch = append(p.watch, slices.Repeat([]int{nobody}, n))
		p.kept = append(p.kept, slices.Repeat([]int{nobody}, n))
	}
	p.scratch.v = make([]float64, len(p.robots))
	p.scratch.seen = make([]int, len(p.robots))
	p.scratch.first = make([]int, len(p.robots))
	p.scratch.met = make([]bool, n*len(p.robots))
	p.scratch.twice = make([]bool, n*n)
	return p, nil
}

// keep puts people where they were, as far as they are on duty.
func (p *planner) keep() {
	for _, s := range p.req.Kept {
		m, person := p.find(s.Match, s.Scout)
		if m < 0 || person < 0 || !p.duty[m][person] {
			continue
		}
		f := &p.matches[m]
		for place, r := range f.robots {
			if p.robots[r].Team == s.Team && p.forbid[person] != r {
				p.kept[m][person], p.watch[m][person] = place, place
			}
		}
	}
}

func (p *planner) find(id record.MatchID, scout string) (match, person int) {
	match = slices.IndexFunc(p.matches, func(f fixture) bool { return f.id == id })
	person = slices.IndexFunc(p.req.People, func(x Person) bool { return x.Scout == scout })
	return match, person
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// loss of the plan as it is.
func (p *planner) loss() (l Loss) {
	w, s := &p.req.Weights, &p.scratch
	for i := range p.robots {
		s.v[i], s.seen[i], s.first[i] = p.robots[i].Var, p.robots[i].Seen, len(p.matches)
	}
	clear(s.met)
	clear(s.twice)
	people := len(p.req.People)
	for m := range p.matches {
		f := &p.matches[m]
		for _, r := range f.robots {
			s.v[r] += p.robots[r].Walk
			if f.ours && r != p.our {
				l.Brief += w.Brief * s.v[r] / p.unit
			}
		}
		var watched [mostRobots]int
		for i, place := range p.watch[m] {
			if place == nobody {
				continue
			}
			r := f.robots[place]
			watched[place]++
			s.seen[r]++
			s.first[r] = min(s.first[r], m)
			if met := &s.met[i*len(p.robots)+r]; !*met {
				*met = true
				l.Spread -= w.Spread
			}
			for j, other := range p.watch[m][:i] {
				if both := &s.twice[i*people+j]; other == place && !*both {
					*both = true
					l.Twice -= w.Twice
				}
			}
		}
		p.learn(f.robots[:f.red], watched[:f.red])
		p.learn(f.robots[f.red:], watched[f.red:len(f.robots)])
	}
	for i := range p.robots {
		r := &p.robots[i]
		if i == p.our {
			continue
		}
		l.List += w.List * r.List * s.v[i] / p.unit
		l.Detail += w.Detail * (0.25 + 0.75*r.List) / float64(1+s.seen[i])
		if r.Asked && len(p.matches) > 0 {
			l.Asked += w.Asked * float64(s.first[i]) / float64(len(p.matches))
		}
	}
	return l
}

// learn takes what one alliance's match tells off what is not known of its
// robots: what a watched robot did is seen, and the official total tells of the
// others together, as roughly as a scout does. Robots are taken one by one: what partners have in common
// after a match that nobody watched is left out.
func (p *planner) learn(robots, watched []int) {
	v := p.scratch.v
	var others, error float64 // of the robots nobody watches together; of what is known of the rest
	for k, r := range robots {
		if watched[k] == 0 {
			others += p.robots[r].Luck + v[r]
		} else {
			error += carelessness * p.robots[r].Luck / float64(watched[k])
		}
	}
	for k, r := range robots {
		luck := p.robots[r].Luck
		noise := others - v[r] + error + carelessness*luck
		if watched[k] > 0 {
			noise = luck * (1 + carelessness/float64(watched[k]))
		}
		v[r] = v[r] * noise / (v[r] + noise)
	}
}

// step is one person's part of the way to a set of robots.
type step struct{ place, before int }

// solve finds the best seats of one match, all others as they are: over every
// set of robots that the people on duty can watch, who watches whom is found by
// dynamic programming over sets (the recurrence of M. Held and R. M. Karp,
// J. SIAM 10 (1962) 196, for an assignment), then the whole plan is weighed.
// It reports whether it changed anything for the better.
func (p *planner) solve(m int) bool {
	f := &p.matches[m]
	before := slices.Clone(p.watch[m])
	var people []int
	for i, there := range p.duty[m] {
		p.watch[m][i] = nobody
		if there {
			people = append(people, i)
		}
	}
	bonus := p.acquaintance(m, people)
	sets := 1 << len(f.robots)
	// best[k][set]: of the first k people, who watch exactly that set.
	best, way := make([][]float64, len(people)+1), make([][]step, len(people)+1)
	for k := range best {
		best[k], way[k] = slices.Repeat([]float64{math.Inf(-1)}, sets), make([]step, sets)
	}
	best[0][0] = 0
	for k, i := range people {
		for set := range sets {
			if math.IsInf(best[k][set], -1) {
				continue
			}
			stays := true
			for place, r := range f.robots {
				if fixed := p.kept[m][i]; r == p.forbid[i] || fixed != nobody && fixed != place {
					continue
				}
				stays = false
				to, gain := set|1<<place, best[k][set]+bonus[k][place]
				if to == set {
					gain += p.req.Weights.Twice
				}
				if gain > best[k+1][to] {
					best[k+1][to], way[k+1][to] = gain, step{place, set}
				}
			}
			if stays && best[k][set] > best[k+1][set] { // nothing this person may watch
				best[k+1][set], way[k+1][set] = best[k][set], step{nobody, set}
			}
		}
	}
	least, chosen := math.Inf(1), before
	if ok := p.allowed(m, before); ok {
		copy(p.watch[m], before)
		least = p.loss().Total()
	}
	changed := false
	for set := range sets {
		if math.IsInf(best[len(people)][set], -1) {
			continue
		}
		p.seat(m, people, set, way)
		if l := p.loss().Total(); l < least-1e-9 {
			least, chosen, changed = l, slices.Clone(p.watch[m]), true
		}
	}
	copy(p.watch[m], chosen)
	return changed
}

// allowed: everybody on duty who can sits somewhere, and nobody else does.
func (p *planner) allowed(m int, seats []int) bool {
	for i, place := range seats {
		if there := p.duty[m][i]; !there && place != nobody || there && place == nobody {
			return false
		}
	}
	return true
}

// acquaintance is what each person on each robot adds by not having met it, by
// the order of people and by place.
func (p *planner) acquaintance(m int, people []int) [][]float64 {
	f := &p.matches[m]
	out := make([][]float64, len(people))
	for k, i := range people {
		out[k] = slices.Repeat([]float64{p.req.Weights.Spread}, len(f.robots))
		for other := range p.matches {
			place := p.watch[other][i]
			if other == m || place == nobody {
				continue
			}
			if at := slices.Index(f.robots, p.matches[other].robots[place]); at >= 0 {
				out[k][at] = 0
			}
		}
	}
	return out
}

// seat puts people where the way to a set put them.
func (p *planner) seat(m int, people []int, set int, way [][]step) {
	for k, i := range slices.Backward(people) {
		s := way[k+1][set]
		p.watch[m][i], set = s.place, s.before
	}
}
