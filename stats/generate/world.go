package generate

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Options say what kind of weekend to invent. Defaults has plausible values;
// the zero value has no teams and is refused.
type Options struct {
	Teams          int       // at least the robots of one match
	FirstTeam      int       // number of the first team
	MatchesPerTeam int       // counted qualification matches of every team
	Start          time.Time // planned start of the first match; zero: matches have no planned start
	Every          time.Duration

	Scouts     int      // who take turns on the places of a match; 0: nobody watches
	ScoutNames []string // nil: s01, s02, …
	Watched    float64  // share of robots that the scout on duty does watch, 0 to 1
	Double     float64  // share that somebody else watches too
	Careless   float64  // share of scouts who are careless
	Mistakes   float64  // factor on all that scouts do wrong; 0: they see everything

	// Altered is the share of robots that are another from one of their matches on:
	// a mechanism works at last or no more, or all takes longer.
	Altered float64

	Tire float64 // share of scouts who see less with every match without a break

	Timeline   bool // records carry their taps
	RobotFacts bool // the venue publishes choices and flags per robot
}

// Defaults is a full weekend with two shifts of six scouts.
func Defaults() Options {
	return Options{
		Teams: 60, FirstTeam: 40101, MatchesPerTeam: 12, Every: 8 * time.Minute,
		Scouts: 12, Watched: 0.95, Double: 0.05, Careless: 0.15, Mistakes: 1,
	}
}

// World is an invented competition. It is safe for concurrent use: nothing in
// it changes after New.
type World struct {
	opt        Options
	course     *course
	teams      []record.Team
	robots     []robot
	scouts     []scout
	meetings   []meeting
	schedule   []record.Match // without results
	conditions [][]condition  // by match and place
	seeds      []seeds        // by match
	marks      []record.Mark  // what the own scouts noticed, in playing order
	altered    []Alteration   // in order of team
	breaks     []int          // first matches after an hour's break or a night, for scouts that tire
}

// seeds start a match's own random sources, so that any match can be played at
// any time and gives the same, and so that more scouts do not change what
// robots do.
type seeds struct{ play, watch, truth [2]uint64 }

func source(seed [2]uint64) *rand.Rand { return rand.New(rand.NewPCG(seed[0], seed[1])) }

// New invents a competition. All randomness comes from rng.
func New(g *game.Game, rng *rand.Rand, opt Options) (*World, error) {
	switch {
	case opt.FirstTeam < 1 || opt.FirstTeam+opt.Teams > 100000:
		return nil, fmt.Errorf("team numbers from %d for %d teams: they go from 1 to 99999", opt.FirstTeam, opt.Teams)
	case !share(opt.Watched) || !share(opt.Double) || !share(opt.Careless) || !share(opt.Altered) || !share(opt.Tire):
		return nil, errors.New("watched, double, careless, altered and tire are shares from 0 to 1")
	case !(opt.Mistakes >= 0 && opt.Mistakes <= 5):
		return nil, fmt.Errorf("mistakes is a factor from 0 to 5, not %g", opt.Mistakes)
	case opt.Scouts < 0 || opt.ScoutNames != nil && len(opt.ScoutNames) < opt.Scouts:
		return nil, fmt.Errorf("%d scouts with %d names", opt.Scouts, len(opt.ScoutNames))
	}
	c, err := newCourse(g)
	if err != nil {
		return nil, err
	}
	w := &World{opt: opt, course: c}
	if w.meetings, err = schedule(rng, opt.Teams, opt.MatchesPerTeam, g.Alliance.Robots); err != nil {
		return nil, err
	}
	names := teamNames(rng, opt.Teams)
	for t := range opt.Teams {
		w.teams = append(w.teams, record.Team{
			ID: record.TeamID(fmt.Sprint(opt.FirstTeam + t)), Name: names[t],
			Pit: fmt.Sprintf("%c%d", 'A'+t/12%26, t%12+1),
		})
		w.robots = append(w.robots, newRobot(rng, c))
	}
	firstDay := (len(w.meetings)*3 + 4) / 5
	w.plan(firstDay)
	w.live(rng, firstDay)
	for range w.meetings {
		var s seeds
		for _, half := range []*[2]uint64{&s.play, &s.watch, &s.truth} {
			half[0], half[1] = rng.Uint64(), rng.Uint64()
		}
		w.seeds = append(w.seeds, s)
	}
	stands := source([2]uint64{rng.Uint64(), rng.Uint64()})
	for i := range opt.Scouts {
		name := fmt.Sprintf("s%02d", i+1)
		if opt.ScoutNames != nil {
			name = opt.ScoutNames[i]
		}
		w.scouts = append(w.scouts, newScout(stands, name, len(w.meetings), &w.opt))
	}
	// Last and apart, so that the rest of the event is the same without.
	if opt.Altered > 0 {
		w.alter(source([2]uint64{rng.Uint64(), rng.Uint64()}))
	}
	if opt.Tire > 0 {
		w.tire(source([2]uint64{rng.Uint64(), rng.Uint64()}), firstDay)
	}
	return w, nil
}

func share(x float64) bool { return x >= 0 && x <= 1 }

// plan writes the schedule: firstDay matches with an hour's break in the
// middle, the rest a day later.
func (w *World) plan(firstDay int) {
	at := w.opt.Start
	for m, meeting := range w.meetings {
		match := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: m + 1}, Play: 1, StartsAt: at}
		size := len(meeting.slots) / 2
		match.Red, match.Blue = w.alliance(meeting, 0, size), w.alliance(meeting, size, 2*size)
		w.schedule = append(w.schedule, match)
		if at.IsZero() {
			continue
		}
		at = at.Add(w.opt.Every)
		if m+1 == firstDay/2 {
			at = at.Add(time.Hour)
		}
		if next := w.opt.Start.AddDate(0, 0, 1); m+1 == firstDay && at.Before(next) {
			at = next
		}
	}
}

func (w *World) alliance(m meeting, from, to int) (a record.Alliance) {
	for _, t := range m.slots[from:to] {
		a.Teams = append(a.Teams, w.teams[t].ID)
		if slices.Contains(m.surrogates, t) {
			a.Surrogates = append(a.Surrogates, w.teams[t].ID)
		}
	}
	return a
}

// live draws every robot's condition in each of its matches, and which
// changes the own scouts noticed.
func (w *World) live(rng *rand.Rand, firstDay int) {
	plays := make([][][2]int, len(w.teams)) // by team: match and place
	w.conditions = make([][]condition, len(w.meetings))
	for m, meeting := range w.meetings {
		w.conditions[m] = make([]condition, len(meeting.slots))
		for place, t := range meeting.slots {
			plays[t] = append(plays[t], [2]int{m, place})
		}
	}
	for t, at := range plays {
		nextDay := len(at)
		for n, p := range slices.Backward(at) {
			if p[0] >= firstDay {
				nextDay = n
			}
		}
		days, changed, repaired := w.robots[t].days(rng, len(at), nextDay)
		for n, p := range at {
			w.conditions[p[0]][p[1]] = days[n]
		}
		for n, kind := range map[int]string{changed: "changed", repaired: "repaired"} {
			if n >= 0 {
				w.marks = append(w.marks, record.Mark{Team: w.teams[t].ID, Match: w.schedule[at[n][0]].ID, Kind: kind})
			}
		}
	}
	slices.SortFunc(w.marks, func(a, b record.Mark) int {
		if c := a.Match.Compare(b.Match); c != 0 {
			return c
		}
		return record.CompareTeams(a.Team, b.Team)
	})
	w.marks = slices.DeleteFunc(w.marks, func(record.Mark) bool { return rng.Float64() < 0.4 })
}

// Teams are the invented teams in order of number.
func (w *World) Teams() []record.Team { return slices.Clone(w.teams) }

// Matches is how many matches the schedule has.
func (w *World) Matches() int { return len(w.schedule) }

// Schedule is all matches in playing order, none of them played.
func (w *World) Schedule() []record.Match { return slices.Clone(w.schedule) }

// Scouts are the names of those who watch.
func (w *World) Scouts() []string {
	var names []string
	for _, s := range w.scouts {
		names = append(names, s.name)
	}
	return names
}

// Marks are the changes that were noticed in the first n matches.
func (w *World) Marks(n int) []record.Mark {
	var out []record.Mark
	for _, m := range w.marks {
		if m.Match.Number <= n {
			out = append(out, m)
		}
	}
	return out
}

// Play plays match i of the schedule (from 0): its official result, and what
// the scouts wrote. The same i always gives the same.
func (w *World) Play(i int) (record.Match, []record.Observation) {
	m, observations, _ := w.play(i)
	return m, observations
}

func (w *World) play(i int) (record.Match, []record.Observation, []Mistake) {
	rng := source(w.seeds[i].play)
	p := w.run(rng, i)
	m := w.schedule[i]
	w.publish(rng, &m, &p)
	observations, wrong := w.watch(source(w.seeds[i].watch), i, &m, &p)
	return m, observations, wrong
}

// run lets the robots of match i play it once.
func (w *World) run(rng *rand.Rand, i int) played {
	var robots []*robot
	for _, t := range w.meetings[i].slots {
		robots = append(robots, &w.robots[t])
	}
	return playMatch(rng, w.course, robots, w.conditions[i])
}

// Event is the competition after its first n matches.
func (w *World) Event(n int) *record.Event {
	ev := &record.Event{Game: w.course.g, Teams: w.Teams(), Matches: w.Schedule(), Marks: w.Marks(n)}
	for i := range min(n, len(ev.Matches)) {
		m, observations := w.Play(i)
		ev.Matches[i] = m
		ev.Observations = append(ev.Observations, observations...)
	}
	return ev
}
