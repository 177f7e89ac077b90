package main

import (
	"context"
	"encoding/json"
	"errors"

	"sextant/stats/contrib"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/rota"
	"sextant/store"
)

// demoWatching is how many scouts are left for the last third of the demo:
// fewer than robots in a match, as usual.
const demoWatching = 5

// place plans who watches whom from match i of the schedule on, unless somebody
// has planned already.
func (d *demoEvent) place(ctx context.Context, i int) error {
	id := record.RotaID(d.id)
	if _, err := d.db.Record(ctx, d.id, id); !errors.Is(err, store.ErrNotFound) {
		return err
	}
	ev, _, err := d.db.Load(ctx, d.id)
	if err != nil {
		return err
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		return err
	}
	set := record.RotaBody{Seats: 2 * ev.Game.Alliance.Robots, Row: 10, Rest: 2, NotOurs: true}
	req := &rota.Request{Matches: d.world.Schedule()[i:], Our: demoOurTeam, Seats: set.Seats, Row: set.Row, Rest: set.Rest, Weights: rota.DefaultWeights()}
	for _, name := range demoScouts[:demoWatching] {
		set.People = append(set.People, record.RotaPerson{Scout: name})
		req.People = append(req.People, rota.Person{Scout: name, Not: demoOurTeam})
	}
	req.Robots = rota.Know(ev, fit, nil, ev.Game.Selection.Alliances*(1+ev.Game.Selection.Picks))
	plan, err := rota.Plan(req)
	if err != nil {
		return err
	}
	var drafts []store.Draft
	body, err := json.Marshal(set)
	drafts = append(drafts, store.Draft{RecordID: id, Kind: record.KindRota, Body: body})
	for _, s := range plan.Seats {
		text, failed := json.Marshal(s)
		err = errors.Join(err, failed)
		drafts = append(drafts, store.Draft{RecordID: record.SeatID(d.id, s.Match, s.Scout), Kind: record.KindSeat, Body: text})
	}
	if err != nil {
		return err
	}
	items, _, err := d.db.Revise(ctx, d.id, drafts, d.lead)
	if err != nil {
		return err
	}
	return d.append(ctx, items)
}

// sent is where the rota puts the demo's scouts in a match. Those who follow its
// links watch for themselves.
func (d *demoEvent) sent(ctx context.Context, match record.MatchID) (generate.Sent, error) {
	records, err := d.db.Records(ctx, d.id, store.Filter{Kind: record.KindSeat, Match: match})
	if err != nil {
		return nil, err
	}
	out := generate.Sent{}
	for i := range records {
		var s record.SeatBody
		if err := json.Unmarshal(records[i].Body, &s); err != nil {
			return nil, err
		}
		if _, ours := d.scouts[s.Scout]; ours && s.Team != "" {
			out[s.Scout] = s.Team
		}
	}
	return out, nil
}
