package brief

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// Plan is who does what.
type Plan struct {
	Jobs []Job `json:"jobs" nullable:"false"` // one a robot of ours, in the order of stations
	// Gains over everybody playing its own game in the same line-up; all zero if nothing else is
	// suggested.
	Win           Gain   `json:"win"`            // in chance to win; a tie counts half
	RankingPoints Gain   `json:"ranking_points"` // in ranking points
	Why           string `json:"why"`            // one sentence
	Tried         int    `json:"tried"`          // assignments that were played through, over all line-ups
}

// Job is what one robot does: against and to are empty if it plays its own game.
type Job struct {
	Team    record.TeamID `json:"team"`
	Against record.TeamID `json:"against,omitempty"` // defends against this opponent
	To      record.TeamID `json:"to,omitempty"`      // feeds this partner
}

// Gain is a difference with the Monte-Carlo standard error that common luck leaves.
type Gain struct {
	Gain float64 `json:"gain"`
	SE   float64 `json:"se"`
}

// Target is an opponent, and what it is worth that the robot of ours which can
// spare it best defends against it while all others play their own game.
type Target struct {
	Team          record.TeamID `json:"team"`
	By            record.TeamID `json:"by"`
	Win           Gain          `json:"win"`
	RankingPoints Gain          `json:"ranking_points"`
}

// Lineup is who of a squad might play, everybody its own game, compared with
// the line-up that is suggested.
type Lineup struct {
	Teams         []record.TeamID `json:"teams" nullable:"false"`
	Win           Gain            `json:"win"`
	RankingPoints Gain            `json:"ranking_points"`
}

// planner plays assignments through.
type planner struct {
	e       *simulate.Engine
	f       *contrib.Fit
	req     *Request
	lineups []*lineup
	sets    [2]*luck // to choose, to measure
	tried   int
}

// lineup is one choice of who plays for us.
type lineup struct {
	match       *record.Match
	ours        []record.TeamID // who comes
	assignments []*assignment   // the first: everybody plays its own game
}

// assignment is one assignment of jobs.
type assignment struct {
	lineup int
	jobs   []Job
	change forecast.Change
	chosen float64   // mean of the goal in the draws to choose from
	drawn  *measured // in the draws to measure with; nil: not yet
}

// measured is what an assignment got, draw by draw.
type measured struct {
	win, points []float64
	gained      [][]bool // by ranking point of the game
}

// luck is a set of draws that every assignment is played with.
type luck struct {
	worlds []simulate.World
	seeds  [2]uint64
}

func newPlanner(e *simulate.Engine, f *contrib.Fit, req *Request, rng *rand.Rand) (*planner, error) {
	p := &planner{e: e, f: f, req: req}
	for k := range p.sets {
		s := &luck{seeds: [2]uint64{rng.Uint64(), rng.Uint64()}}
		for range req.Runs {
			s.worlds = append(s.worlds, e.World(rng))
		}
		p.sets[k] = s
	}
	for _, teams := range p.choices() {
		m := *req.Match
		side := m.Side(req.Ours)
		side.Teams = teams
		if _, err := forecast.Match(f, &m); err != nil {
			return nil, err
		}
		l := &lineup{match: &m, ours: present(side)}
		theirs := present(m.Side(other(req.Ours)))
		for _, jobs := range assignments(l.ours, theirs, p.canFeed()) {
			l.assignments = append(l.assignments, &assignment{lineup: len(p.lineups), jobs: jobs, change: changeOf(jobs, req.Assume)})
		}
		p.tried += len(l.assignments)
		p.lineups = append(p.lineups, l)
	}
	return p, nil
}

func other(c record.Colour) record.Colour {
	if c == record.Red {
		return record.Blue
	}
	return record.Red
}

// choices are the line-ups to look at.
func (p *planner) choices() [][]record.TeamID {
	if p.req.Squad == nil {
		return [][]record.TeamID{p.req.Match.Side(p.req.Ours).Teams}
	}
	var out [][]record.TeamID
	n := p.e.Game().Alliance.Robots
	var pick func(from int, have []record.TeamID)
	pick = func(from int, have []record.TeamID) {
		if len(have) == n {
			out = append(out, slices.Clone(have))
			return
		}
		for k := from; k < len(p.req.Squad); k++ {
			pick(k+1, append(have, p.req.Squad[k]))
		}
	}
	pick(0, nil)
	return out
}

// canFeed reports whether the game has something to hand to a partner.
func (p *planner) canFeed() bool {
	for _, a := range p.e.Game().Actions {
		if a.Helps != "" {
			return true
		}
	}
	return false
}

// assignments are all ways to give jobs to our robots, the one without any
// first: an opponent is defended against by one robot at most, and who is fed
// plays its own game and is fed by one robot at most.
func assignments(ours, theirs []record.TeamID, feeding bool) [][]Job {
	var out [][]Job
	jobs := make([]Job, len(ours))
	var give func(k int)
	give = func(k int) {
		if k == len(ours) {
			if allowed(jobs) {
				out = append(out, slices.Clone(jobs))
			}
			return
		}
		jobs[k] = Job{Team: ours[k]}
		give(k + 1)
		for _, t := range theirs {
			jobs[k] = Job{Team: ours[k], Against: t}
			give(k + 1)
		}
		for _, t := range ours {
			if feeding && t != ours[k] {
				jobs[k] = Job{Team: ours[k], To: t}
				give(k + 1)
			}
		}
	}
	give(0)
	return out
}

func allowed(jobs []Job) bool {
	for i, a := range jobs {
		for k, b := range jobs {
			switch {
			case i != k && a.Against != "" && a.Against == b.Against,
				i != k && a.To != "" && a.To == b.To,
				a.To == b.Team && (b.Against != "" || b.To != ""):
				return false
			}
		}
	}
	return true
}

func changeOf(jobs []Job, a *Assume) forecast.Change {
	var c forecast.Change
	for _, j := range jobs {
		if j.Against != "" {
			c.Defend = append(c.Defend, forecast.Defence{Team: j.Team, Against: j.Against, Loss: a.Loss, Keeps: a.Keeps})
		}
		if j.To != "" {
			c.Feed = append(c.Feed, forecast.Feeding{Team: j.Team, To: j.To, Gain: a.Gain, Keeps: a.Keeps})
		}
	}
	return c
}

// play plays an assignment through a set of draws.
func (p *planner) play(a *assignment, s *luck, each func(run int, won float64, side *simulate.Side)) {
	sides, err := forecast.Lineups(p.f, p.lineups[a.lineup].match, &a.change)
	if err != nil {
		panic(err) // teams were checked, and shares
	}
	run := p.e.NewRun(rand.New(rand.NewPCG(s.seeds[0], s.seeds[1])))
	ours := 0
	if p.req.Ours == record.Blue {
		ours = 1
	}
	for k, w := range s.worlds {
		copy(run.World, w)
		o := run.Play(&sides[0], &sides[1])
		won := 0.5
		if winner := o.Winner(); winner >= 0 {
			won = 0
			if winner == ours {
				won = 1
			}
		}
		each(k, won, &o.Sides[ours])
	}
}

// choose finds the assignment with the most of the goal, on the draws to choose
// from. It is taken only if it is surely better, on the draws to measure with,
// than everybody playing its own game in the line-up that is best at that.
func (p *planner) choose() *assignment {
	var own, best *assignment
	for _, l := range p.lineups {
		for k, a := range l.assignments {
			sum := 0.0
			p.play(a, p.sets[0], func(_ int, won float64, side *simulate.Side) {
				if p.req.Goal == Win {
					sum += won
				} else {
					sum += side.Ranking
				}
			})
			a.chosen = sum / float64(p.req.Runs)
			if k == 0 && (own == nil || a.chosen > own.chosen) {
				own = a
			}
			if best == nil || a.chosen > best.chosen {
				best = a
			}
		}
	}
	if best == own {
		return own
	}
	if g := p.gain(own, best, p.req.Goal); g.Gain > sure*g.SE {
		return best
	}
	return own
}

// sure is how many standard errors a gain must be above zero.
const sure = 2

func (p *planner) measure(a *assignment) *measured {
	if a.drawn == nil {
		m := &measured{}
		p.play(a, p.sets[1], func(_ int, won float64, side *simulate.Side) {
			m.win, m.points = append(m.win, won), append(m.points, side.Ranking)
			m.gained = append(m.gained, slices.Clone(side.RankingPoints))
		})
		a.drawn = m
	}
	return a.drawn
}

// gain is that of b over a, draw by draw.
func (p *planner) gain(a, b *assignment, goal Goal) Gain {
	x, y := p.measure(a).win, p.measure(b).win
	if goal == RankingPoints {
		x, y = p.measure(a).points, p.measure(b).points
	}
	n, sum, squares := float64(len(x)), 0.0, 0.0
	for k := range x {
		sum += y[k] - x[k]
		squares += (y[k] - x[k]) * (y[k] - x[k])
	}
	mean := sum / n
	return Gain{Gain: mean, SE: math.Sqrt(math.Max(0, squares/n-mean*mean) / math.Max(1, n-1))}
}

func (p *planner) plan(best *assignment) Plan {
	own := p.lineups[best.lineup].assignments[0]
	return Plan{
		Jobs: best.jobs, Tried: p.tried,
		Win: p.gain(own, best, Win), RankingPoints: p.gain(own, best, RankingPoints),
	}
}

// compareLineups compares the line-ups of a squad with the chosen one.
func (p *planner) compareLineups(chosen int) []Lineup {
	if p.req.Squad == nil {
		return nil
	}
	var out []Lineup
	for _, l := range p.lineups {
		a, b := p.lineups[chosen].assignments[0], l.assignments[0]
		out = append(out, Lineup{Teams: l.match.Side(p.req.Ours).Teams, Win: p.gain(a, b, Win), RankingPoints: p.gain(a, b, RankingPoints)})
	}
	slices.SortStableFunc(out, func(a, b Lineup) int { return p.compare(a.Win, a.RankingPoints, b.Win, b.RankingPoints) })
	return out
}

// compare puts what brings more of the goal first.
func (p *planner) compare(winA, pointsA, winB, pointsB Gain) int {
	d := winB.Gain - winA.Gain
	if p.req.Goal == RankingPoints {
		d = pointsB.Gain - pointsA.Gain
	}
	switch {
	case d > 0:
		return 1
	case d < 0:
		return -1
	}
	return 0
}

// targets are the opponents, the one that is worth most first. The robot to
// spare is chosen on one set of draws and measured on the other.
func (p *planner) targets(chosen int) []Target {
	l := p.lineups[chosen]
	best := map[record.TeamID]*assignment{}
	by := map[record.TeamID]record.TeamID{}
	for _, a := range l.assignments {
		if len(a.change.Defend) != 1 || len(a.change.Feed) > 0 {
			continue
		}
		d := a.change.Defend[0]
		if b := best[d.Against]; b == nil || a.chosen > b.chosen {
			best[d.Against], by[d.Against] = a, d.Team
		}
	}
	out := []Target{}
	for _, t := range present(l.match.Side(other(p.req.Ours))) {
		if a := best[t]; a != nil {
			out = append(out, Target{Team: t, By: by[t], Win: p.gain(l.assignments[0], a, Win), RankingPoints: p.gain(l.assignments[0], a, RankingPoints)})
		}
	}
	slices.SortStableFunc(out, func(a, b Target) int { return p.compare(a.Win, a.RankingPoints, b.Win, b.RankingPoints) })
	return out
}

// explain says in one sentence what a plan costs and what it takes, from the
// forecasts without and with it.
func (p *Plan) explain(r *Request, now, planned *forecast.Detail) {
	if !slices.ContainsFunc(p.Jobs, func(j Job) bool { return j.Against != "" || j.To != "" }) {
		p.Why = "Every robot plays its own game: nothing that was tried is surely better."
		return
	}
	a, b, c, d := now.Forecast.Red.Mean, planned.Forecast.Red.Mean, now.Forecast.Blue.Mean, planned.Forecast.Blue.Mean
	capped := now.Red.Capped - planned.Red.Capped
	if r.Ours == record.Blue {
		a, b, c, d = c, d, a, b
		capped = now.Blue.Capped - planned.Blue.Capped
	}
	p.Why = fmt.Sprintf("We are expected to score %.0f instead of %.0f, and they %.0f instead of %.0f", b, a, d, c)
	if capped >= 0.5 {
		p.Why += fmt.Sprintf("; %.0f points of what we give up would not have counted, since caps take them off", capped)
	}
	p.Why += "."
}
