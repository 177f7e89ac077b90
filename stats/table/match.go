package table

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"sextant/stats/game"
	"sextant/stats/record"
)

// robotsPrefix begins the columns with one official value per robot.
const robotsPrefix = "robots:"

// ReadMatches reads matches.csv: the schedule and, once played, the official
// results, one row per alliance and play of a match. Needed columns are match,
// alliance and teams. Matches come in playing order, then by play. Name is the
// file's name for errors, which are Errors.
func ReadMatches(name string, r io.Reader, g *game.Game) ([]record.Match, error) {
	rows, errs := readMatches(name, r, g)
	if len(errs) > 0 {
		return nil, errs
	}
	out := make([]record.Match, len(rows))
	for i, row := range rows {
		out[i] = row.match
	}
	return out, nil
}

// matchRow is a match and where its alliances stand in the file.
type matchRow struct {
	match record.Match
	lines map[record.Colour]int
}

func readMatches(name string, r io.Reader, g *game.Game) ([]*matchRow, Errors) {
	s, errs := openSheet(name, r, func(c string) bool { return matchColumn(g, c) }, "match", "alliance", "teams")
	if s == nil {
		return nil, errs
	}
	type key struct {
		id   record.MatchID
		play int
	}
	var out []*matchRow
	at := map[key]*matchRow{}
	s.each(func(r row) {
		id, ok := r.match("match")
		play := r.play()
		side := record.Colour(r.word("alliance"))
		if side != record.Red && side != record.Blue {
			r.fail("alliance", "%q is no alliance; write red or blue", clip(string(side)))
			ok = false
		}
		starts := r.time("starts_at")
		alliance := r.alliance(g, id)
		if !ok {
			return
		}
		m := at[key{id, play}]
		if m == nil {
			m = &matchRow{match: record.Match{ID: id, Play: play}, lines: map[record.Colour]int{}}
			at[key{id, play}] = m
			out = append(out, m)
		}
		if line, twice := m.lines[side]; twice {
			r.fail("alliance", "%s of %s stands in line %d already; keep one row, or give the column play", side, id, line)
			return
		}
		m.lines[side] = r.line
		*m.match.Side(side) = alliance
		switch {
		case starts.IsZero():
		case m.match.StartsAt.IsZero():
			m.match.StartsAt = starts
		case !m.match.StartsAt.Equal(starts):
			r.fail("starts_at", "the other row of %s says %s; write the same time in both", id, m.match.StartsAt.Format(time.RFC3339))
		}
	})
	for _, m := range out {
		s.pair(m)
	}
	slices.SortFunc(out, func(a, b *matchRow) int {
		return cmp.Or(a.match.ID.Compare(b.match.ID), cmp.Compare(a.match.Play, b.match.Play))
	})
	slices.SortStableFunc(s.errs, func(a, b Error) int { return cmp.Compare(a.Line, b.Line) })
	return out, s.errs
}

// pair checks what only both rows of a match show.
func (s *sheet) pair(m *matchRow) {
	fail := func(side record.Colour, column, format string, args ...any) {
		s.errs.add(Error{File: s.name, Line: m.lines[side], Column: column, Message: fmt.Sprintf(format, args...)})
	}
	for _, side := range []record.Colour{record.Red, record.Blue} {
		if _, ok := m.lines[side]; !ok {
			other := record.Red
			if side == record.Red {
				other = record.Blue
			}
			fail(other, "alliance", "%s has no row for %s; a match needs one row for red and one for blue", m.match.ID, side)
			return
		}
	}
	for _, t := range m.match.Blue.Teams {
		if slices.Contains(m.match.Red.Teams, t) {
			fail(record.Blue, "teams", "team %s plays for both alliances of %s; a robot plays once in a match", t, m.match.ID)
		}
	}
}

// matchColumn reports whether matches.csv may have a column.
func matchColumn(g *game.Game, column string) bool {
	if id, ok := strings.CutPrefix(column, robotsPrefix); ok {
		a, ok := g.Action(id)
		return ok && !a.ByAlliance()
	}
	if slices.Contains([]string{
		"match", "play", "starts_at", "alliance", "teams", "surrogates", "absent", "disqualified", "cards",
		"score", "from_fouls", "ranking_points",
	}, column) {
		return true
	}
	_, ok := g.Component(column)
	return ok
}

// time reads a time with its distance from UTC; zero: none.
func (r row) time(column string) time.Time {
	s := r.word(column)
	if s == "" {
		return time.Time{}
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil || t.Year() < 1900 {
		r.fail(column, "%q is not a time; write it like 2031-03-06T09:00:00-05:00, with the distance from UTC", clip(s))
		return time.Time{}
	}
	return t
}

// alliance reads one side's teams and result.
func (r row) alliance(g *game.Game, id record.MatchID) record.Alliance {
	a := record.Alliance{Teams: r.teams("teams")}
	size := g.Alliance.Robots
	switch {
	case len(a.Teams) > size:
		r.fail("teams", "there are %d teams; in this game %d robots play for an alliance", len(a.Teams), size)
	case len(a.Teams) < size && len(a.Teams) > 0 && id.Stage == record.Qualification:
		r.fail("teams", "there are %d teams; in this game %d robots play for an alliance: name the robots that did not show too, and put them into the column absent", len(a.Teams), size)
	}
	a.Surrogates = r.some("surrogates", a.Teams)
	a.Absent = r.some("absent", a.Teams)
	a.Disqualified = r.some("disqualified", a.Teams)
	a.Cards = r.some("cards", a.Teams)
	a.Result = r.result(g, a.Teams)
	return a
}

// some reads some of an alliance's teams, in the order of the alliance.
func (r row) some(column string, of []record.TeamID) []record.TeamID {
	named := r.teams(column)
	for _, t := range named {
		if !slices.Contains(of, t) {
			r.fail(column, "team %s does not play for this alliance; write teams of the column teams only", t)
		}
	}
	var out []record.TeamID
	for _, t := range of {
		if slices.Contains(named, t) {
			out = append(out, t)
		}
	}
	return out
}

// result reads the official result; nil: not played.
func (r row) result(g *game.Game, teams []record.TeamID) *record.Result {
	if r.word("score") == "" {
		for _, column := range r.s.header {
			if isResult(g, column) && strings.TrimSpace(r.text(column)) != "" {
				r.fail("score", "the score is empty, so the match is not played, but the column %s is filled; write the score or empty that cell", column)
				break
			}
		}
		return nil
	}
	out := &record.Result{FromFouls: r.score("from_fouls"), RankingPoints: r.score("ranking_points")}
	if n := r.score("score"); n != nil {
		out.Score = *n
	}
	if len(teams) == 0 {
		r.fail("teams", "there is a score but no teams; write who played, in the order of their stations")
	}
	for _, part := range g.Components {
		if n := r.score(part.ID); n != nil {
			if out.Components == nil {
				out.Components = map[string]float64{}
			}
			out.Components[part.ID] = *n
		}
	}
	for _, column := range r.s.header {
		id, ok := strings.CutPrefix(column, robotsPrefix)
		if !ok {
			continue
		}
		action, ok := g.Action(id)
		if !ok {
			continue
		}
		if values := r.robots(column, action, len(teams)); values != nil {
			if out.Robots == nil {
				out.Robots = map[string][]string{}
			}
			out.Robots[id] = values
		}
	}
	return out
}

// isResult reports whether a column other than score belongs to a played match.
func isResult(g *game.Game, column string) bool {
	if slices.Contains([]string{"from_fouls", "ranking_points", "absent", "disqualified", "cards"}, column) || strings.HasPrefix(column, robotsPrefix) {
		return true
	}
	_, ok := g.Component(column)
	return ok
}

// robots reads one official value per robot; nil: none is known.
func (r row) robots(column string, a *game.Action, n int) []string {
	words := strings.Fields(r.text(column))
	if len(words) == 0 {
		return nil
	}
	if len(words) != n {
		r.fail(column, "there are %d values for %d teams; write one for each team, with single spaces, and - for one that is not known", len(words), n)
		return nil
	}
	known := false
	for i, word := range words {
		if word == "-" {
			words[i] = ""
			continue
		}
		known = true
		if err := record.CheckRobotValue(a, word); err != nil {
			r.fail(column, "value %d: %v", i+1, err)
		}
	}
	if !known {
		return nil
	}
	return words
}

// WriteMatches writes matches.csv in playing order: all columns of the form
// that the game defines, and play, absent, disqualified, cards and robots:…
// where any match has them. Times are written in their own location. What the
// game does not define is an error: it would be lost.
func WriteMatches(w io.Writer, g *game.Game, matches []record.Match) error {
	matches = slices.Clone(matches)
	slices.SortFunc(matches, func(a, b record.Match) int {
		return cmp.Or(a.ID.Compare(b.ID), cmp.Compare(record.PlayOf(a.Play), record.PlayOf(b.Play)))
	})
	for i := range matches {
		if err := writable(g, &matches[i]); err != nil {
			return err
		}
	}
	any := func(f func(*record.Match, *record.Alliance) bool) bool {
		return slices.ContainsFunc(matches, func(m record.Match) bool { return f(&m, &m.Red) || f(&m, &m.Blue) })
	}
	type column struct {
		name string
		cell func(*record.Match, *record.Alliance) string
	}
	var columns []column
	add := func(name string, cell func(*record.Match, *record.Alliance) string) {
		columns = append(columns, column{name, cell})
	}
	// result is a column that is empty until the match is played.
	result := func(name string, cell func(*record.Result) string) {
		add(name, func(_ *record.Match, a *record.Alliance) string {
			if a.Result == nil {
				return ""
			}
			return cell(a.Result)
		})
	}
	add("match", func(m *record.Match, _ *record.Alliance) string { return m.ID.String() })
	if any(func(m *record.Match, _ *record.Alliance) bool { return m.Play > 1 }) {
		add("play", func(m *record.Match, _ *record.Alliance) string { return fmt.Sprint(record.PlayOf(m.Play)) })
	}
	add("starts_at", func(m *record.Match, _ *record.Alliance) string {
		if m.StartsAt.IsZero() {
			return ""
		}
		return m.StartsAt.Format(time.RFC3339Nano)
	})
	add("alliance", func(m *record.Match, a *record.Alliance) string {
		if a == &m.Blue {
			return string(record.Blue)
		}
		return string(record.Red)
	})
	add("teams", func(_ *record.Match, a *record.Alliance) string { return joinTeams(a.Teams) })
	add("surrogates", func(_ *record.Match, a *record.Alliance) string { return joinTeams(inOrder(a, a.Surrogates)) })
	for _, c := range []struct {
		name  string
		teams func(*record.Alliance) []record.TeamID
	}{
		{"absent", func(a *record.Alliance) []record.TeamID { return a.Absent }},
		{"disqualified", func(a *record.Alliance) []record.TeamID { return a.Disqualified }},
		{"cards", func(a *record.Alliance) []record.TeamID { return a.Cards }},
	} {
		if any(func(_ *record.Match, a *record.Alliance) bool { return len(c.teams(a)) > 0 }) {
			add(c.name, func(_ *record.Match, a *record.Alliance) string { return joinTeams(inOrder(a, c.teams(a))) })
		}
	}
	result("score", func(r *record.Result) string { return formatNumber(r.Score) })
	result("from_fouls", func(r *record.Result) string { return formatOptional(r.FromFouls) })
	for _, part := range g.Components {
		result(part.ID, func(r *record.Result) string {
			if n, ok := r.Components[part.ID]; ok {
				return formatNumber(n)
			}
			return ""
		})
	}
	result("ranking_points", func(r *record.Result) string { return formatOptional(r.RankingPoints) })
	for _, a := range g.Actions {
		if any(func(_ *record.Match, side *record.Alliance) bool {
			return side.Result != nil && len(side.Result.Robots[a.ID]) > 0
		}) {
			result(robotsPrefix+a.ID, func(r *record.Result) string { return guardValues(r.Robots[a.ID]) })
		}
	}

	out := newWriter(w)
	cells := make([]string, len(columns))
	for i, c := range columns {
		cells[i] = c.name
	}
	out.row(cells)
	for i := range matches {
		m := &matches[i]
		for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
			for j, c := range columns {
				cells[j] = c.cell(m, a)
			}
			out.row(cells)
		}
	}
	return out.close()
}

// writable refuses a match with a component or an action that has no column.
func writable(g *game.Game, m *record.Match) error {
	for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
		if a.Result == nil {
			continue
		}
		for _, id := range slices.Sorted(maps.Keys(a.Result.Components)) {
			if _, ok := g.Component(id); !ok {
				return fmt.Errorf("match %s has a value of the component %q, which is not in the game", m.ID, clip(id))
			}
		}
		for _, id := range slices.Sorted(maps.Keys(a.Result.Robots)) {
			if a, ok := g.Action(id); !ok || a.ByAlliance() {
				return fmt.Errorf("match %s has robots' values of the action %q, which is no robot's action in the game", m.ID, clip(id))
			}
		}
	}
	return nil
}

// inOrder puts some of an alliance's teams into the alliance's order; others,
// which reading will refuse, come last.
func inOrder(a *record.Alliance, some []record.TeamID) []record.TeamID {
	var out, others []record.TeamID
	for _, t := range a.Teams {
		if slices.Contains(some, t) {
			out = append(out, t)
		}
	}
	for _, t := range some {
		if !slices.Contains(a.Teams, t) {
			others = append(others, t)
		}
	}
	return append(out, others...)
}

// guardValues writes one value per robot. A list that begins with "-" is text
// to a spreadsheet, not a number.
func guardValues(values []string) string {
	words := make([]string, len(values))
	for i, v := range values {
		if words[i] = v; v == "" {
			words[i] = "-"
		}
	}
	return guard(strings.Join(words, " "))
}
