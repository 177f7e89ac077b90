package store

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// SetPrior makes estimates of an earlier event the prior knowledge of this one's
// analysis; nil takes them away. Whether they fit is the caller's to check.
// ErrNotFound: no such event.
func (db *DB) SetPrior(ctx context.Context, event uuid.UUID, prior *record.Estimate) (err error) {
	defer wrap(&err, "set the prior of event %s", event)
	var text []byte
	if prior != nil {
		if text, err = json.Marshal(prior); err != nil {
			return err
		}
	}
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `update event set prior = $2 where event_id = $1`, event, text)
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			return pgx.ErrNoRows
		}
		_, err = db.publish(ctx, tx, event, true, []change{{kind: ChangeEvent, audience: forAll}})
		return err
	})
	if err == nil {
		db.hints.add(event)
	}
	return err
}

// Prior is what SetPrior kept; nil: nothing. ErrNotFound: no such event.
func (db *DB) Prior(ctx context.Context, event uuid.UUID) (_ *record.Estimate, err error) {
	defer wrap(&err, "read the prior of event %s", event)
	text, err := readPrior(ctx, db.pool, event)
	if err != nil {
		return nil, err
	}
	return priorOf(text)
}

func readPrior(ctx context.Context, q querier, event uuid.UUID) (text json.RawMessage, err error) {
	err = q.QueryRow(ctx, `select prior from event where event_id = $1`, event).Scan(&text)
	return text, err
}

func priorOf(text json.RawMessage) (*record.Estimate, error) {
	if len(text) == 0 {
		return nil, nil
	}
	var e record.Estimate
	if err := json.Unmarshal(text, &e); err != nil {
		return nil, fmt.Errorf("the prior that is kept: %w", err)
	}
	return &e, nil
}
