package table

import (
	"fmt"
	"io"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// File is a file to read and its name for errors.
type File struct {
	Name string
	R    io.Reader
}

// Files are the files of an event. Matches is needed; the others may be nil.
type Files struct {
	Teams, Matches, Observations, Marks *File
}

// Load reads the files of an event and checks them against each other. The
// error is Errors.
//
// Without a team list the teams are those of the matches. With one, every team
// must stand in it. A record about a robot that is at the event but not in that
// match, or about a match that is not in the schedule, is kept: scouts do err,
// and the analysis passes it over. A team that is not at the event at all is an
// error. A file of teams or matches that has errors itself is no measure for
// others, and of one without any team that alone is told.
func Load(g *game.Game, files Files) (record.Event, error) {
	ev := record.Event{Game: g}
	var errs Errors
	join := func(more Errors) {
		for _, e := range more {
			errs.add(e)
		}
	}
	if files.Matches == nil {
		return ev, Errors{{File: "matches.csv", Message: "there is no schedule; give the file of matches"}}
	}
	matches, more := readMatches(files.Matches.Name, files.Matches.R, g)
	join(more)
	matchesFail := len(more) > 0
	var check crossCheck
	if files.Teams != nil {
		ev.Teams, more = readTeams(files.Teams.Name, files.Teams.R)
		join(more)
		check = newCrossCheck(ev.Teams, files.Teams.Name)
		check.off = len(more) > 0
		for _, m := range matches {
			ev.Matches = append(ev.Matches, m.match)
			for _, side := range []record.Colour{record.Red, record.Blue} {
				check.all(m.match.Side(side).Teams, &errs, Error{File: files.Matches.Name, Line: m.lines[side], Column: "teams"})
			}
		}
	} else {
		for _, m := range matches {
			ev.Matches = append(ev.Matches, m.match)
		}
		ev.Teams = teamsOf(ev.Matches)
		check = newCrossCheck(ev.Teams, files.Matches.Name)
		check.off = matchesFail
	}
	if files.Observations != nil {
		rows, more := readObservations(files.Observations.Name, files.Observations.R, g)
		join(more)
		for _, row := range rows {
			ev.Observations = append(ev.Observations, row.observation)
			check.one(row.observation.Team, &errs, Error{File: files.Observations.Name, Line: row.line, Column: "team"})
		}
		sortObservations(ev.Observations)
	}
	if files.Marks != nil {
		rows, more := readMarks(files.Marks.Name, files.Marks.R)
		join(more)
		for _, row := range rows {
			ev.Marks = append(ev.Marks, row.mark)
			check.one(row.mark.Team, &errs, Error{File: files.Marks.Name, Line: row.line, Column: "team"})
		}
		sortMarks(ev.Marks)
	}
	if len(errs) > 0 {
		return record.Event{Game: g}, errs
	}
	return ev, nil
}

// Event joins what was read or stored into an event, ordered as record.Event
// wants it, and checks it as Load does. Errors have no line; prefer Load for
// files. Without teams they are those of the matches.
func Event(g *game.Game, teams []record.Team, matches []record.Match, observations []record.Observation, marks []record.Mark) (record.Event, error) {
	ev := record.Event{
		Game: g, Teams: slices.Clone(teams), Matches: slices.Clone(matches),
		Observations: slices.Clone(observations), Marks: slices.Clone(marks),
	}
	if teams == nil {
		ev.Teams = teamsOf(matches)
	}
	sortTeams(ev.Teams)
	slices.SortStableFunc(ev.Matches, func(a, b record.Match) int {
		if c := a.ID.Compare(b.ID); c != 0 {
			return c
		}
		return record.PlayOf(a.Play) - record.PlayOf(b.Play)
	})
	sortObservations(ev.Observations)
	sortMarks(ev.Marks)

	var errs Errors
	check := newCrossCheck(ev.Teams, "the team list")
	for i := range ev.Matches {
		m := &ev.Matches[i]
		where := Error{File: "match " + m.ID.String(), Column: "teams"}
		robots := slices.Concat(m.Red.Teams, m.Blue.Teams)
		check.all(robots, &errs, where)
		for j, t := range robots {
			if slices.Contains(robots[:j], t) {
				where.Message = fmt.Sprintf("team %s stands twice; a robot plays once in a match", t)
				errs.add(where)
			}
		}
		if i > 0 && m.ID == ev.Matches[i-1].ID && record.PlayOf(m.Play) == record.PlayOf(ev.Matches[i-1].Play) {
			where.Column, where.Message = "play", fmt.Sprintf("play %d stands twice; keep one", record.PlayOf(m.Play))
			errs.add(where)
		}
	}
	for i, o := range ev.Observations {
		where := Error{File: fmt.Sprintf("observation of %s in %s by %s", o.Team, o.Match, o.Scout)}
		if i > 0 && o.Key() == ev.Observations[i-1].Key() {
			where.Message = "it stands twice; keep one"
			errs.add(where)
		}
		where.Column = "team"
		check.one(o.Team, &errs, where)
	}
	for _, m := range ev.Marks {
		check.one(m.Team, &errs, Error{File: fmt.Sprintf("mark of %s in %s", m.Team, m.Match), Column: "team"})
	}
	if len(errs) > 0 {
		return record.Event{Game: g}, errs
	}
	return ev, nil
}

// teamsOf are the teams that play in any match, without names.
func teamsOf(matches []record.Match) []record.Team {
	seen := map[record.TeamID]bool{}
	out := []record.Team{}
	for _, m := range matches {
		for _, t := range slices.Concat(m.Red.Teams, m.Blue.Teams) {
			if !seen[t] {
				seen[t] = true
				out = append(out, record.Team{ID: t})
			}
		}
	}
	sortTeams(out)
	return out
}

// crossCheck knows the teams of an event.
type crossCheck struct {
	known map[record.TeamID]bool
	where string
	off   bool // where cannot be relied on, or the one thing to say of it is said
}

func newCrossCheck(teams []record.Team, where string) crossCheck {
	c := crossCheck{known: map[record.TeamID]bool{}, where: where}
	for _, t := range teams {
		c.known[t.ID] = true
	}
	return c
}

// one notes a team that is not at the event.
func (c *crossCheck) one(t record.TeamID, errs *Errors, e Error) {
	switch {
	case c.off || c.known[t]:
	case len(c.known) == 0:
		errs.add(Error{File: c.where, Message: "no team stands there, so nothing can belong to one; give the teams first"})
		c.off = true
	default:
		e.Message = fmt.Sprintf("team %s is not in %s; correct the number, or add the team there", t, c.where)
		errs.add(e)
	}
}

func (c *crossCheck) all(teams []record.TeamID, errs *Errors, e Error) {
	for _, t := range teams {
		c.one(t, errs, e)
	}
}
