package store

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Load reads everything an analysis needs in one snapshot: the game with the
// event's overrides, teams, all plays with the results that count, observations
// that are not discarded, and marks, ordered as record.Event says. Observations
// and marks of a team that is not at the event are left out, and of two records
// that speak of the same robot, play and scout one. dataNo is the number of
// that state. ErrNotFound: no such event; game.Problems: the stored game cannot
// be read.
func (db *DB) Load(ctx context.Context, event uuid.UUID) (_ *record.Event, dataNo int64, err error) {
	defer wrap(&err, "load event %s", event)
	var (
		ev           Event
		gameBody     json.RawMessage
		prior        json.RawMessage
		out          record.Event
		observations []bodyOf[record.Observation]
		marks        []bodyOf[record.Mark]
		trainings    []bodyOf[record.Training]
		judgements   []bodyOf[record.Judgement]
	)
	err = db.tx(ctx, snapshot, func(tx pgx.Tx) error {
		if ev, err = readEvent(ctx, tx, event); err != nil {
			return err
		}
		if gameBody, _, err = readGame(ctx, tx, event); err != nil {
			return err
		}
		if prior, err = readPrior(ctx, tx, event); err != nil {
			return err
		}
		if out.Teams, err = readTeams(ctx, tx, event); err != nil {
			return err
		}
		if out.Matches, err = readMatches(ctx, tx, event, ev.Zone); err != nil {
			return err
		}
		if out.Matches, err = applyResults(ctx, tx, event, out.Matches); err != nil {
			return err
		}
		if observations, err = readBodies[record.Observation](ctx, tx, event, record.KindObservation); err != nil {
			return err
		}
		if marks, err = readBodies[record.Mark](ctx, tx, event, record.KindMark); err != nil {
			return err
		}
		if trainings, err = readBodies[record.Training](ctx, tx, event, record.KindTraining); err != nil {
			return err
		}
		judgements, err = readBodies[record.Judgement](ctx, tx, event, record.KindJudgement)
		return err
	})
	if err != nil {
		return nil, 0, err
	}
	if out.Game, err = loadGame(gameBody, ev.Overrides); err != nil {
		return nil, 0, err
	}
	if out.Prior, err = priorOf(prior); err != nil {
		return nil, 0, err
	}
	out.OurTeam = ev.OurTeam
	here := make(map[record.TeamID]bool, len(out.Teams))
	for _, t := range out.Teams {
		here[t.ID] = true
	}
	out.Observations, out.Strays = usable(event, observations, here)
	for _, m := range marks {
		if here[m.body.Team] && !m.body.Discarded {
			out.Marks = append(out.Marks, m.body)
		}
	}
	for _, t := range trainings {
		if !t.body.Discarded {
			out.Trainings = append(out.Trainings, t.body)
		}
	}
	for _, j := range judgements {
		if !j.body.Discarded {
			out.Judgements = append(out.Judgements, j.body)
		}
	}
	slices.SortStableFunc(out.Marks, func(a, b record.Mark) int {
		return cmp.Or(a.Match.Compare(b.Match), record.CompareTeams(a.Team, b.Team), cmp.Compare(a.Kind, b.Kind))
	})
	return &out, ev.DataNo, nil
}

// loadGame joins a game file and an event's settings.
func loadGame(body, overrides json.RawMessage) (*game.Game, error) {
	g, err := game.Load("game.json", body)
	if err != nil || sameJSON(overrides, json.RawMessage(`{}`)) {
		return g, err
	}
	g, _, err = g.Override("event.json", overrides)
	return g, err
}

// usable are the observations that are evidence, one for each identity, and
// those of teams that are not at the event, both in playing order.
func usable(event uuid.UUID, all []bodyOf[record.Observation], here map[record.TeamID]bool) (out, strays []record.Observation) {
	// The record that was made for an identity comes before one that was moved there.
	slices.SortStableFunc(all, func(a, b bodyOf[record.Observation]) int {
		return compareBool(!observationRecord(event, a), !observationRecord(event, b))
	})
	seen := make(map[string]bool, len(all))
	for _, o := range all {
		key := o.body.Key()
		if o.body.Discarded || seen[key] {
			continue
		}
		seen[key] = true
		if here[o.body.Team] {
			out = append(out, o.body)
		} else {
			strays = append(strays, o.body)
		}
	}
	for _, list := range [][]record.Observation{out, strays} {
		slices.SortStableFunc(list, func(a, b record.Observation) int {
			return cmp.Or(
				a.Match.Compare(b.Match),
				cmp.Compare(record.PlayOf(a.Play), record.PlayOf(b.Play)),
				record.CompareTeams(a.Team, b.Team),
				cmp.Compare(a.Scout, b.Scout),
			)
		})
	}
	return out, strays
}

func observationRecord(event uuid.UUID, o bodyOf[record.Observation]) bool {
	return o.id == record.ObservationID(event, o.body.Match, o.body.Play, o.body.Team, o.body.Scout)
}

// bodyOf is the body that counts of one record.
type bodyOf[T any] struct {
	id   uuid.UUID
	body T
}

// readBodies reads the bodies that count of all records of a kind, by id.
func readBodies[T any](ctx context.Context, q querier, event uuid.UUID, kind string) ([]bodyOf[T], error) {
	rows, err := q.Query(ctx, `
		select r.record_id, coalesce(r.body, v.body)
		from record r
		join revision v on v.event_id = r.event_id and v.revision_id = r.head
		where r.event_id = $1 and r.kind = $2
		order by r.record_id`, event, kind)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (bodyOf[T], error) {
		var b bodyOf[T]
		var raw json.RawMessage
		if err := row.Scan(&b.id, &raw); err != nil {
			return b, err
		}
		if err := json.Unmarshal(raw, &b.body); err != nil {
			return b, fmt.Errorf("read the body of %s %s: %w", kind, b.id, err)
		}
		return b, nil
	})
}
