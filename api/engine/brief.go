package engine

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"

	"github.com/google/uuid"

	"sextant/stats/brief"
	"sextant/stats/forecast"
	"sextant/stats/record"
)

// ErrNotOurs says that a brief was asked of a match in which our team does not
// play, without saying whose side to take.
var ErrNotOurs = errors.New("our team does not play in this match")

// BriefRequest says which match is to be prepared, and how.
type BriefRequest struct {
	Match record.MatchID
	// Red and Blue are who plays; nil: as the schedule says.
	Red, Blue []record.TeamID
	Ours      record.Colour   // empty: the side that our team plays on
	Squad     []record.TeamID // see brief.Request
	Goal      brief.Goal
	Assume    brief.Assume
}

// Brief is a brief and from which data it is.
type Brief struct {
	*brief.Brief
	DataNo  int64
	Current bool
	// Played: the match has a result, which the estimates have learned from.
	Played bool
}

// maxKept stay in memory: the briefs of a weekend for a few events.
const maxKept = 256

// Brief prepares a match. Its errors are those of Model, ErrNoMatch, ErrNotOurs,
// and brief.ErrRequest with a text. The same data and request give the same
// brief.
func (e *Engine) Brief(ctx context.Context, event uuid.UUID, req *BriefRequest) (Brief, error) {
	m, current, err := e.Model(ctx, event)
	if err != nil {
		return Brief{}, err
	}
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return Brief{}, err
	}
	match := lineUp(m, req)
	if match == nil {
		return Brief{}, ErrNoMatch
	}
	ours := req.Ours
	if ours == "" {
		if ours = sideOf(match, ev.OurTeam); ours == "" {
			return Brief{}, ErrNotOurs
		}
	}
	out := Brief{DataNo: m.DataNo, Current: current, Played: match.Played()}
	key := fmt.Sprintf("%s %d %s %+v", event, m.DataNo, ours, *req)
	out.Brief, err = e.briefs.of(ctx, key, func() (*brief.Brief, error) { return prepare(m, match, ours, req) })
	return out, err
}

// lineUp is the match of a request; nil: there is no such match to forecast.
func lineUp(m *Model, req *BriefRequest) *record.Match {
	if m.Fit == nil {
		return nil
	}
	match := record.Match{ID: req.Match, Play: 1}
	if scheduled := lastOf(m.Event.Matches, req.Match); scheduled != nil {
		match = *scheduled
	}
	if req.Red != nil {
		match.Red = record.Alliance{Teams: req.Red}
	}
	if req.Blue != nil {
		match.Blue = record.Alliance{Teams: req.Blue}
	}
	if len(match.Red.Teams) == 0 && (req.Squad == nil || req.Ours != record.Red) ||
		len(match.Blue.Teams) == 0 && (req.Squad == nil || req.Ours != record.Blue) {
		return nil
	}
	return &match
}

// sideOf is the side that a team plays on; empty: neither.
func sideOf(m *record.Match, team record.TeamID) record.Colour {
	for _, c := range []record.Colour{record.Red, record.Blue} {
		if slices.Contains(m.Side(c).Teams, team) {
			return c
		}
	}
	return ""
}

func prepare(m *Model, match *record.Match, ours record.Colour, req *BriefRequest) (*brief.Brief, error) {
	// A team that is not known, or on both sides, is a mistake of who asks.
	b, err := brief.New(m.Draw, m.Fit, m.Event, &brief.Request{
		Match: match, Ours: ours, Squad: req.Squad, Goal: req.Goal, Assume: &req.Assume,
	}, forecast.Source(match.ID))
	if err != nil && !errors.Is(err, brief.ErrRequest) {
		err = fmt.Errorf("%w: %w", brief.ErrRequest, err)
	}
	return b, err
}

// memo keeps what was made last, and makes one at a time. What it gives is
// shared: nobody may change it.
type memo[T any] struct {
	turn chan struct{}

	mu    sync.Mutex
	kept  map[string]*T
	order []string // the longest kept first
}

func newMemo[T any]() *memo[T] {
	return &memo[T]{turn: make(chan struct{}, 1), kept: map[string]*T{}}
}

func (b *memo[T]) get(key string) *T {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.kept[key]
}

// of returns what is kept for a key, or makes it. Who waits for its turn may
// find it made by another.
func (b *memo[T]) of(ctx context.Context, key string, work func() (*T, error)) (*T, error) {
	if have := b.get(key); have != nil {
		return have, nil
	}
	select {
	case b.turn <- struct{}{}:
		defer func() { <-b.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if have := b.get(key); have != nil {
		return have, nil
	}
	made, err := work()
	if err != nil {
		return nil, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.kept[key] = made
	if b.order = append(b.order, key); len(b.order) > maxKept {
		delete(b.kept, b.order[0])
		b.order = b.order[1:]
	}
	return made, nil
}
