package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
)

// demoJudging is the share of the demo's scouts who judge all robots after a match.
const demoJudging = 0.25

// drafted is a draft and who makes it.
type drafted struct {
	store.Draft
	scout string
}

// judged is what scouts say about all robots of match i.
func (d *demoEvent) judged(i int) ([]drafted, error) {
	var out []drafted
	for _, q := range d.world.Event(0).Game.Questions {
		if q.When != game.WhenJudgement {
			continue
		}
		for _, j := range d.world.Judge(i, q.ID, demoJudging) {
			body, err := json.Marshal(j)
			if err != nil {
				return nil, err
			}
			id := record.JudgementID(d.id, j.Match, j.Play, j.Question, j.Scout)
			out = append(out, drafted{store.Draft{RecordID: id, Kind: record.KindJudgement, Body: body}, j.Scout})
		}
	}
	return out, nil
}

// ask leaves one open question for the scouts, about a robot of the next match
// that has not lifted yet, unless it was asked before.
func (d *demoEvent) ask(ctx context.Context) error {
	id := uuid.NewSHA1(d.id, []byte("demo question"))
	if _, err := d.db.Record(ctx, d.id, id); !errors.Is(err, store.ErrNotFound) {
		return err
	}
	next, err := d.upcoming(ctx)
	if errors.Is(err, errDemoOver) {
		return nil
	}
	if err != nil {
		return err
	}
	m := d.world.Schedule()[next]
	teams := slices.Concat(m.Red.Teams, m.Blue.Teams)
	team := teams[slices.IndexFunc(teams, func(t record.TeamID) bool { return t != demoOurTeam })]
	body, err := json.Marshal(record.QuestionBody{
		Team: team, Text: fmt.Sprintf("Does %s still lift itself when its alliance is ahead?", team),
		Owner: demoLead, AskedOf: record.AskedOfScouts,
	})
	if err != nil {
		return err
	}
	items, _, err := d.db.Revise(ctx, d.id, []store.Draft{{RecordID: id, Kind: record.KindQuestion, Body: body}}, d.lead)
	if err != nil {
		return err
	}
	return d.append(ctx, items)
}
