package engine

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/rota"
	"sextant/store"
)

// RotaRequest says what a rota is to be made for.
type RotaRequest struct {
	From record.MatchID // the first match that is planned; what comes before stays
	Keep int            // matches from there whose seats stay as far as possible
	record.RotaBody
}

// Rota is a plan and from which data it is.
type Rota struct {
	*rota.Result
	DataNo  int64
	Current bool
	Matches int // ahead
	Weights rota.Weights
}

// Rota plans who watches which robot. Its errors are those of Model and, what
// is wrong with the request, those of rota.Plan.
func (e *Engine) Rota(ctx context.Context, event uuid.UUID, req *RotaRequest) (Rota, error) {
	m, current, err := e.Model(ctx, event)
	if err != nil {
		return Rota{}, err
	}
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return Rota{}, err
	}
	seats, err := bodies[record.SeatBody](ctx, e.opt.Store, event, record.KindSeat)
	if err != nil {
		return Rota{}, err
	}
	questions, err := bodies[record.QuestionBody](ctx, e.opt.Store, event, record.KindQuestion)
	if err != nil {
		return Rota{}, err
	}
	plan := &rota.Request{Our: ev.OurTeam, Seats: req.Seats, Row: req.Row, Rest: req.Rest, Weights: weights(req.Weights)}
	before := matches(m.Event, req, plan)
	carryOver(plan, req, before, seats)
	for i := range req.People {
		if p := &req.People[i]; !p.Away {
			person := rota.Person{Scout: p.Scout, Shifts: p.Shifts}
			if req.NotOurs {
				person.Not = ev.OurTeam
			}
			plan.People = append(plan.People, person)
		}
	}
	var asked []record.TeamID
	for _, q := range questions {
		if !q.Done && q.AskedOf == record.AskedOfScouts && q.Team != "" {
			asked = append(asked, q.Team)
		}
	}
	places := 0
	if sel := m.Event.Game.Selection; sel != nil {
		places = sel.Alliances * (1 + sel.Picks)
	}
	plan.Robots = rota.Know(m.Event, m.Fit, asked, places)
	got, err := rota.Plan(plan)
	if err != nil {
		return Rota{}, err
	}
	return Rota{Result: got, DataNo: m.DataNo, Current: current, Matches: len(plan.Matches), Weights: plan.Weights}, nil
}

// matches puts those ahead into the plan, each once, and gives the ids of those
// before. Practice matches count: robots can be watched there too.
func matches(ev *record.Event, req *RotaRequest, plan *rota.Request) (before []record.MatchID) {
	for i := range ev.Matches {
		m := &ev.Matches[i]
		switch {
		case m.ID.Compare(req.From) < 0:
			if !slices.Contains(before, m.ID) {
				before = append(before, m.ID)
			}
		case len(plan.Matches) > 0 && plan.Matches[len(plan.Matches)-1].ID == m.ID:
			plan.Matches[len(plan.Matches)-1] = *m // another play of it
		default:
			plan.Matches = append(plan.Matches, *m)
		}
	}
	return before
}

// carryOver takes what was planned before: who sat in which match, and the seats
// that stay.
func carryOver(plan *rota.Request, req *RotaRequest, before []record.MatchID, seats []record.SeatBody) {
	for _, id := range before {
		there := map[string]bool{}
		for _, s := range seats {
			if s.Match == id && s.Team != "" {
				there[s.Scout] = true
			}
		}
		plan.Before = append(plan.Before, there)
	}
	for i := range plan.Matches[:min(req.Keep, len(plan.Matches))] {
		for _, s := range seats {
			if s.Match == plan.Matches[i].ID && s.Team != "" {
				plan.Kept = append(plan.Kept, s)
			}
		}
	}
}

// weights are the usual ones with those of m instead.
func weights(m map[string]float64) rota.Weights {
	w := rota.DefaultWeights()
	for name, to := range map[string]*float64{
		"brief": &w.Brief, "list": &w.List, "detail": &w.Detail, "asked": &w.Asked, "spread": &w.Spread, "twice": &w.Twice,
	} {
		if v, ok := m[name]; ok {
			*to = v
		}
	}
	return w
}

// bodies are what the records of a kind say now.
func bodies[B any](ctx context.Context, db *store.DB, event uuid.UUID, kind string) ([]B, error) {
	records, err := db.Records(ctx, event, store.Filter{Kind: kind})
	if err != nil {
		return nil, err
	}
	out := make([]B, len(records))
	for i := range records {
		if err := json.Unmarshal(records[i].Body, &out[i]); err != nil {
			return nil, fmt.Errorf("record %s: %w", records[i].ID, err)
		}
	}
	return out, nil
}
