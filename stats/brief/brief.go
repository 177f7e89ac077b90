package brief

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// Goal is what a plan is to bring more of.
type Goal string

// The goals: to win the match, as in playoffs, or ranking points.
const (
	Win           Goal = "win"
	RankingPoints Goal = "ranking_points"
)

// Assume is what is assumed of jobs.
type Assume struct {
	Loss  float64 `json:"loss"`  // share of its points that an opponent loses to a defender, 0 to forecast.MostLoss
	Gain  float64 `json:"gain"`  // share of its points that a robot makes more when it is fed, 0 to 1
	Keeps float64 `json:"keeps"` // share of its own points that a defender or feeder still makes, 0 to 1
}

// Usual is what is assumed unless somebody says otherwise. Common practice, no
// source: it is where the sliders of a what-if start.
var Usual = Assume{Loss: 0.2, Gain: 0.2, Keeps: 0.5}

// Request says which match is to be prepared.
type Request struct {
	// Match needs teams only; it may be in no schedule. A result is not looked at.
	Match *record.Match
	Ours  record.Colour
	// Squad is our alliance if it has more robots than play; nil: those of Match
	// play. The best line-up is looked for.
	Squad []record.TeamID
	// Goal; empty: ranking points in a qualification match of a game that has
	// some, else to win.
	Goal   Goal
	Assume *Assume // nil: Usual
	Runs   int     // draws of each assignment; 0: 1500
}

// Brief is what there is to know before a match.
type Brief struct {
	Match   record.MatchID  `json:"match"`
	Ours    record.Colour   `json:"ours"`
	Goal    Goal            `json:"goal"`
	Assume  Assume          `json:"assume"`
	Runs    int             `json:"runs"`
	Red     []Robot         `json:"red" nullable:"false"` // who plays, in the order of stations
	Blue    []Robot         `json:"blue" nullable:"false"`
	Out     []record.TeamID `json:"out,omitempty"` // of the squad: sits this match out
	Now     forecast.Detail `json:"now"`           // everybody plays its own game
	Planned forecast.Detail `json:"planned"`       // with Plan; equal to Now without jobs
	Plan    Plan            `json:"plan"`
	Lineups []Lineup        `json:"lineups,omitempty"` // of a squad, the best first
	Defend  []Target        `json:"defend" nullable:"false"`
	Clashes []Clash         `json:"clashes" nullable:"false"`
	Reach   []Reach         `json:"reach" nullable:"false"`
}

// ErrRequest says that a request cannot be followed; the text says why.
var ErrRequest = errors.New("no brief can be made")

// runs of each assignment: the standard error of a gain is about one in a
// hundred of a chance, with common luck less.
const defaultRuns = 1500

// forecastRuns are the draws of the forecasts that are shown: as many as those
// of a what-if, so that both say the same.
const forecastRuns = 4000

// New prepares a match. e and f are of ev. An error wraps ErrRequest, or is one
// of forecast.Match.
func New(e *simulate.Engine, f *contrib.Fit, ev *record.Event, req *Request, rng *rand.Rand) (*Brief, error) {
	r := *req
	if r.Assume == nil {
		usual := Usual
		r.Assume = &usual
	}
	if r.Runs <= 0 {
		r.Runs = defaultRuns
	}
	if r.Goal == "" {
		r.Goal = Win
		if r.Match.ID.Stage == record.Qualification && len(ev.Game.RankingPoints) > 0 {
			r.Goal = RankingPoints
		}
	}
	if err := r.check(ev.Game); err != nil {
		return nil, err
	}
	p, err := newPlanner(e.For(r.Match.ID), f, &r, rng)
	if err != nil {
		return nil, err
	}
	best := p.choose()
	match := p.lineups[best.lineup].match
	now, planned, err := forecast.WhatIf(e, f, match, &best.change, forecastRuns)
	if err != nil {
		return nil, err
	}
	b := &Brief{
		Match: r.Match.ID, Ours: r.Ours, Goal: r.Goal, Assume: *r.Assume, Runs: r.Runs,
		Now: now, Planned: planned,
		Plan: p.plan(best), Lineups: p.compareLineups(best.lineup), Defend: p.targets(best.lineup),
		Reach: p.reach(best, &now, &planned),
	}
	b.Plan.explain(&r, &now, &planned)
	facts := newFacts(f, ev)
	b.Red, b.Blue = facts.robots(match.Red.Teams), facts.robots(match.Blue.Teams)
	b.Clashes = facts.clashes(present(match.Side(r.Ours)))
	for _, t := range r.Squad {
		if !slices.Contains(match.Side(r.Ours).Teams, t) {
			b.Out = append(b.Out, t)
		}
	}
	return b, nil
}

func (r *Request) check(g *game.Game) error {
	a := r.Assume
	switch {
	case r.Ours != record.Red && r.Ours != record.Blue:
		return fmt.Errorf("%w: our alliance is %q: red or blue", ErrRequest, r.Ours)
	case r.Goal != Win && r.Goal != RankingPoints:
		return fmt.Errorf("%w: the goal is %q: %s or %s", ErrRequest, r.Goal, Win, RankingPoints)
	case r.Squad != nil && (len(r.Squad) < g.Alliance.Robots || len(r.Squad) > maxSquad):
		return fmt.Errorf("%w: our alliance has %d robots: from %d to %d", ErrRequest, len(r.Squad), g.Alliance.Robots, maxSquad)
	case !(a.Loss >= 0 && a.Loss <= forecast.MostLoss):
		return fmt.Errorf("%w: the loss is %v: a share from 0 to %v", ErrRequest, a.Loss, forecast.MostLoss)
	case !(a.Gain >= 0 && a.Gain <= 1):
		return fmt.Errorf("%w: the gain is %v: a share from 0 to 1", ErrRequest, a.Gain)
	case !(a.Keeps >= 0 && a.Keeps <= 1):
		return fmt.Errorf("%w: what is kept is %v: a share from 0 to 1", ErrRequest, a.Keeps)
	case len(r.Match.Red.Teams) > maxSquad || len(r.Match.Blue.Teams) > maxSquad:
		return fmt.Errorf("%w: an alliance has more than %d robots", ErrRequest, maxSquad)
	}
	return nil
}

// maxSquad keeps the number of assignments small.
const maxSquad = 5

// present are the robots of an alliance that come.
func present(a *record.Alliance) []record.TeamID {
	return slices.DeleteFunc(slices.Clone(a.Teams), func(t record.TeamID) bool { return slices.Contains(a.Absent, t) })
}
