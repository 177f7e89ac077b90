package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"sextant/api/engine"
	"sextant/stats/bracket"
	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/stats/standings"
	"sextant/store"
)

// Planned times of the demo's playoff: after the last qualification match, and
// between two matches.
const (
	demoBreak = time.Hour
	demoApart = 10 * time.Minute
)

// errOurTurn: the next move of the selection is for whoever follows the lead's link.
var errOurTurn = errors.New("our team is asked")

// demoTurn is how the demo goes on once every qualification match is played:
// the board of the selection, and what is known of the robots.
type demoTurn struct {
	event *record.Event
	fit   *contrib.Fit
	log   []selection.Entry
	board *selection.Board
}

// turn reads where selection and playoff stand.
func (d *demoEvent) turn(ctx context.Context) (*demoTurn, error) {
	t := new(demoTurn)
	var err error
	if t.event, _, err = d.db.Load(ctx, d.id); err != nil {
		return nil, err
	}
	if t.fit, err = contrib.Estimate(t.event, contrib.Options{}); err != nil {
		return nil, err
	}
	var ranking []record.TeamID
	for _, place := range standings.Current(t.event) {
		ranking = append(ranking, place.Team)
	}
	start, err := selection.New(selection.RulesOf(t.event.Game.Selection), ranking)
	if err != nil {
		return nil, err
	}
	if t.log, err = engine.SelectionLog(ctx, d.db, d.id); err != nil {
		return nil, err
	}
	t.board, _ = selection.Replay(start, t.log)
	return t, nil
}

// goOn makes the next move of the selection, or plays the next match of the
// playoff, and says what happened. A move that our own team makes or answers is
// errOurTurn unless it was asked for; errDemoOver.
func (d *demoEvent) goOn(ctx context.Context, asked bool) (string, error) {
	t, err := d.turn(ctx)
	if err != nil {
		return "", err
	}
	if now, on := t.board.Turn(); on {
		move := t.move(now)
		if !asked && slices.Contains([]record.TeamID{move.Captain, move.Invites}, demoOurTeam) {
			return "", errOurTurn
		}
		return d.call(ctx, t, move)
	}
	return d.playoff(ctx, t)
}

// move is what the captain on the clock does: it invites the robot that looks
// best, and that one accepts, unless it will be captain itself and others than
// the first two ask.
func (t *demoTurn) move(now selection.Turn) selection.Move {
	m := selection.Move{Captain: now.Captain, Round: now.Round, Answer: selection.Accepts}
	teams := t.fit.Record().Teams
	slices.SortStableFunc(teams, func(a, b record.TeamEstimate) int { return cmp.Compare(b.Now, a.Now) })
	best := slices.IndexFunc(teams, func(e record.TeamEstimate) bool { return t.board.WhyNot(e.Team) == "" })
	if best < 0 {
		m.Answer = record.NobodyLeft
		return m
	}
	m.Invites = teams[best].Team
	if now.Alliance > 2 && slices.Contains(t.board.Captains(), m.Invites) {
		m.Answer = selection.Declines
	}
	return m
}

// call writes a move down.
func (d *demoEvent) call(ctx context.Context, t *demoTurn, m selection.Move) (string, error) {
	body, err := json.Marshal(record.SelectionBody{
		Step: selection.NextStep(t.log), Round: m.Round, Captain: m.Captain, Invites: m.Invites, Answer: m.Answer,
	})
	if err != nil {
		return "", err
	}
	items, _, err := d.db.Revise(ctx, d.id, []store.Draft{{RecordID: uuid.New(), Kind: record.KindSelection, Body: body}}, d.lead)
	if err != nil {
		return "", err
	}
	said := map[string]string{
		selection.Accepts:  "%s calls %s, who accepts.",
		selection.Declines: "%s calls %s, who declines.",
	}[m.Answer]
	if said == "" {
		return fmt.Sprintf("%s finds nobody to call.", m.Captain), d.append(ctx, items)
	}
	return fmt.Sprintf(said, m.Captain, m.Invites), d.append(ctx, items)
}

// playoff plays the match that is on the schedule, or the next one that the
// bracket asks for.
func (d *demoEvent) playoff(ctx context.Context, t *demoTurn) (string, error) {
	schedule, _, err := d.db.Schedule(ctx, d.id)
	if err != nil {
		return "", err
	}
	at := slices.IndexFunc(schedule, func(m record.Match) bool { return m.ID.Playoffs() && !m.Played() })
	if at < 0 {
		m, winner, err := t.due(schedule)
		if err != nil {
			return "", err
		}
		if winner != nil {
			return "", fmt.Errorf("%w and alliance %d wins, with %s", errDemoOver, winner.Alliance, strings.Trim(fmt.Sprint(winner.Teams), "[]"))
		}
		at, schedule = len(schedule), append(schedule, m)
	}
	m, err := d.world.Playoff(schedule[at])
	if err != nil {
		return "", err
	}
	results, _, err := d.db.ResultRevisions(ctx, d.id, []record.Match{m}, d.lead)
	if err != nil {
		return "", err
	}
	if _, err := d.db.ReplaceSchedule(ctx, d.id, schedule, results, store.Replace{}); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s is played.", m.ID), nil
}

// due is the match of the playoff that comes next, without a result, or who has
// won the event.
func (t *demoTurn) due(schedule []record.Match) (m record.Match, winner *record.BracketAlliance, err error) {
	var all []record.SelectedAlliance
	for _, a := range t.board.Alliances() {
		all = append(all, record.SelectedAlliance{Alliance: a.Alliance, Captain: a.Captain, Picks: a.Picks})
	}
	// Of what is drawn only what is certain matters here: who plays next, who has won.
	drawn, err := bracket.Simulate(t.fit, t.event, all, 1, rand.New(rand.NewPCG(0, 0)))
	if err != nil {
		return m, nil, err
	}
	if len(drawn.Next) == 0 {
		k := slices.IndexFunc(drawn.Alliances, func(a record.BracketAlliance) bool { return a.Win == 1 })
		return m, &drawn.Alliances[k], nil
	}
	next := drawn.Next[0]
	m = record.Match{ID: next.Match, Play: 1}
	for side, seed := range map[record.Colour]int{record.Red: next.Red, record.Blue: next.Blue} {
		k := slices.IndexFunc(drawn.Alliances, func(a record.BracketAlliance) bool { return a.Alliance == seed })
		m.Side(side).Teams = t.lineup(drawn.Alliances[k].Teams)
	}
	last := slices.MaxFunc(schedule, func(a, b record.Match) int { return a.StartsAt.Compare(b.StartsAt) })
	apart := demoBreak
	if last.ID.Playoffs() {
		apart = demoApart
	}
	m.StartsAt = last.StartsAt.Add(apart)
	for _, old := range schedule {
		if old.ID == m.ID {
			m.Play++ // a tie is played again
		}
	}
	return m, nil, nil
}

// lineup is who of an alliance plays.
func (t *demoTurn) lineup(teams []record.TeamID) (out []record.TeamID) {
	var members []int
	for _, team := range teams {
		i, _ := t.fit.Index(team) // everybody selected has played
		members = append(members, i)
	}
	for _, i := range bracket.Lineup(t.fit, members) {
		out = append(out, t.fit.Teams()[i])
	}
	return out
}
