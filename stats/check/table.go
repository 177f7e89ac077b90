package check

import (
	"cmp"
	"math"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// table is an event laid out by seats: every play of a match has its robots,
// and every robot its rows.
type table struct {
	ev       *record.Event
	g        *game.Game
	cells    []cell
	teams    []record.TeamID
	index    map[record.TeamID]int
	plays    []play
	rows     []*row
	stray    []*record.Observation // of no seat of the schedule
	profiles *profiles
	totals   *totals
	same     float64 // how far two scouts of one robot differ, see same.go
	opt      Options
}

// cell is one thing that a record says of a robot as a number.
type cell struct {
	kind   cellKind
	action int    // index in game.Actions, −1: a question
	id     string // of the action or the question
	points float64
	option []float64 // points of the options of a choice
	names  []string  // their ids
	missed bool
	timed  bool // of a period in which a stop costs
	later  int  // cell that the same thing counts into in a later period; −1: none
}

type cellKind uint8

const (
	countCell cellKind = iota
	flagCell
	choiceCell
)

// play is one play of a match.
type play struct {
	match  *record.Match
	counts bool    // its result is there and is the one that counts
	seats  []int   // robots (indices in teams), red first; −1: not at the event
	red    int     // seats of red
	absent []bool  // by the venue
	rows   [][]int // by seat: rows
	before int     // the play before and the one after, −1: none
	after  int
}

// row is one record of a robot that is in the match.
type row struct {
	obs    *record.Observation
	play   int
	seat   int
	robot  int
	scout  string
	vals   []float64 // by cell; NaN: not watched
	w      float64   // share of the driver-controlled time that the robot could use
	half   bool      // only a part was watched
	absent bool
}

func (r *row) usable() bool { return !r.half && !r.absent }

// doubtable: it says something, and nobody has looked at it and found it right.
func (r *row) doubtable() bool { return r.usable() && !r.obs.Checked }

func newTable(ev *record.Event, opt Options) *table {
	t := layTable(ev, opt)
	t.same = t.agreement()
	t.totals = newTotals(t)
	return t
}

// layTable is a table that knows what robots do, and nothing of official results.
func layTable(ev *record.Event, opt Options) *table {
	opt.Least = cmp.Or(opt.Least, defaultLeast)
	t := &table{ev: ev, g: ev.Game, index: map[record.TeamID]int{}, opt: opt}
	for i := range ev.Teams {
		t.teams = append(t.teams, ev.Teams[i].ID)
	}
	slices.SortFunc(t.teams, record.CompareTeams)
	t.teams = slices.Compact(t.teams)
	for i, id := range t.teams {
		t.index[id] = i
	}
	t.layCells()
	t.layPlays()
	t.layRows()
	t.profiles = newProfiles(t)
	return t
}

// layCells lists what a record says, in the order of the game file.
func (t *table) layCells() {
	start := map[string]float64{}
	now := 0.0
	longest := ""
	var most float64
	within := map[string]string{}
	for _, p := range t.g.Periods {
		within[p.ID] = p.Within
		if p.Within == "" {
			start[p.ID] = now
			now += p.Seconds + p.PauseAfter
			if p.Seconds > most {
				longest, most = p.ID, p.Seconds
			}
		}
	}
	top := func(id string) string {
		for range len(within) {
			if within[id] == "" {
				break
			}
			id = within[id]
		}
		return id
	}
	made := map[int]int{} // cell of makes by action
	for k := range t.g.Actions {
		a := &t.g.Actions[k]
		if a.ByAlliance() {
			continue
		}
		c := cell{action: k, id: a.ID, points: a.Points, later: -1, timed: a.Period == "" || top(a.Period) == longest}
		switch a.Kind {
		case game.Choice:
			c.kind = choiceCell
			for _, o := range a.Options {
				c.option, c.names = append(c.option, o.Points), append(c.names, o.ID)
			}
		case game.Flag:
			c.kind = flagCell
		}
		made[k] = len(t.cells)
		t.cells = append(t.cells, c)
		if a.Misses {
			t.cells = append(t.cells, cell{action: k, id: a.ID, missed: true, later: -1, timed: c.timed})
		}
	}
	for k, at := range made {
		a := &t.g.Actions[k]
		for j, into := range made {
			b := &t.g.Actions[j]
			if j == k || a.Name == "" || a.Name != b.Name || a.Kind != b.Kind || a.Kind == game.Choice ||
				a.Period == "" || b.Period == "" || start[top(b.Period)] <= start[top(a.Period)] {
				continue
			}
			t.cells[at].later = into
			if a.Misses && b.Misses {
				t.cells[at+1].later = into + 1
			}
		}
	}
	if q, ok := t.g.QuestionByRole(game.RoleStartPosition); ok && len(q.Options) > 1 {
		t.cells = append(t.cells, cell{kind: choiceCell, action: -1, id: q.ID, names: q.Options, option: make([]float64, len(q.Options)), later: -1})
	}
}

func (t *table) layPlays() {
	last := map[record.MatchID]int{}
	for i := range t.ev.Matches {
		m := &t.ev.Matches[i]
		last[m.ID] = max(last[m.ID], m.Play)
	}
	order := make([]*record.Match, 0, len(t.ev.Matches))
	for i := range t.ev.Matches {
		order = append(order, &t.ev.Matches[i])
	}
	slices.SortStableFunc(order, func(a, b *record.Match) int { return cmp.Or(a.ID.Compare(b.ID), cmp.Compare(a.Play, b.Play)) })
	for _, m := range order {
		p := play{match: m, counts: m.Played() && m.Play == last[m.ID], red: len(m.Red.Teams), before: len(t.plays) - 1, after: len(t.plays) + 1}
		if p.after == len(order) {
			p.after = -1
		}
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := m.Side(c)
			for _, id := range a.Teams {
				robot, ok := t.index[id]
				if !ok {
					robot = -1
				}
				p.seats = append(p.seats, robot)
				p.absent = append(p.absent, slices.Contains(a.Absent, id))
			}
		}
		p.rows = make([][]int, len(p.seats))
		t.plays = append(t.plays, p)
	}
}

func (t *table) layRows() {
	type key struct {
		match record.MatchID
		play  int
		team  record.TeamID
	}
	type seat struct{ play, seat int }
	at := map[key]seat{}
	for i := range t.plays {
		p := &t.plays[i]
		for s, robot := range p.seats {
			if robot >= 0 {
				at[key{p.match.ID, max(1, p.match.Play), t.teams[robot]}] = seat{i, s}
			}
		}
	}
	views := make([]*record.Observation, 0, len(t.ev.Observations)+len(t.ev.Strays))
	for _, list := range [][]record.Observation{t.ev.Observations, t.ev.Strays} {
		for i := range list {
			if o := &list[i]; !o.Discarded {
				views = append(views, o)
			}
		}
	}
	slices.SortStableFunc(views, func(a, b *record.Observation) int {
		return cmp.Or(a.Match.Compare(b.Match), cmp.Compare(max(1, a.Play), max(1, b.Play)), record.CompareTeams(a.Team, b.Team), cmp.Compare(a.Scout, b.Scout))
	})
	for _, o := range record.JoinParts(t.g, views) {
		s, ok := at[key{o.Match, max(1, o.Play), o.Team}]
		if !ok {
			t.stray = append(t.stray, o)
			continue
		}
		p := &t.plays[s.play]
		p.rows[s.seat] = append(p.rows[s.seat], len(t.rows))
		t.rows = append(t.rows, t.read(o, s.play, s.seat, p.seats[s.seat]))
	}
}

// read turns a record into numbers.
func (t *table) read(o *record.Observation, play, seat, robot int) *row {
	r := &row{obs: o, play: play, seat: seat, robot: robot, scout: o.Scout, absent: o.Absent, half: o.Part(), vals: make([]float64, len(t.cells)), w: 1}
	if q, ok := t.g.QuestionByRole(game.RoleLostSight); ok {
		if a := o.Answers[q.ID]; a.Flag != nil && *a.Flag {
			r.half = true
		}
	}
	var lost float64
	for _, role := range []string{game.RoleStoppedSeconds, game.RoleDefendingSeconds, game.RoleFeedingSeconds} {
		if q, ok := t.g.QuestionByRole(role); ok {
			if a := o.Answers[q.ID]; a.Number != nil {
				lost += math.Max(0, *a.Number)
			}
		}
	}
	if all := t.g.DriverSeconds(); all > 0 {
		r.w = 1 - 0.95*math.Min(1, lost/all)
	}
	for k := range t.cells {
		c := &t.cells[k]
		r.vals[k] = math.NaN()
		switch {
		case c.action < 0:
			if a := o.Answers[c.id]; a.Text != nil {
				if i := slices.Index(c.names, *a.Text); i >= 0 {
					r.vals[k] = float64(i)
				}
			}
		case c.kind == choiceCell:
			if i := slices.Index(c.names, o.Choices[c.id].Option); i >= 0 {
				r.vals[k] = float64(i)
			}
		case c.missed:
			if v := o.Counts[c.id].Missed; v != nil {
				r.vals[k] = *v
			}
		default:
			if v := o.Counts[c.id].Made; v != nil {
				r.vals[k] = *v
			}
		}
	}
	return r
}

// exposed is the share of its time that the robot of a row had for a cell.
func (r *row) exposed(c *cell) float64 {
	if c.timed {
		return r.w
	}
	return 1
}
