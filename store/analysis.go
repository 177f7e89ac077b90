package store

import (
	"context"
	"encoding/json"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// Analysis reads a kept analysis, byte for byte as it was saved. ErrNotFound.
func (db *DB) Analysis(ctx context.Context, event uuid.UUID, dataNo int64, engine, optionsHash string) (_ []byte, err error) {
	defer wrap(&err, "read the analysis of event %s at %d", event, dataNo)
	var body string
	err = db.pool.QueryRow(ctx, `
		select body::text
		from analysis
		where event_id = $1 and data_no = $2 and engine = $3 and options_hash = $4`,
		event, dataNo, engine, optionsHash).Scan(&body)
	return []byte(body), err
}

// LatestAnalysis reads the newest kept analysis of an engine and options, which
// may be older than the event's DataNo. ErrNotFound.
func (db *DB) LatestAnalysis(ctx context.Context, event uuid.UUID, engine, optionsHash string) (dataNo int64, body []byte, err error) {
	defer wrap(&err, "read the latest analysis of event %s", event)
	var text string
	err = db.pool.QueryRow(ctx, `
		select data_no, body::text
		from analysis
		where event_id = $1 and engine = $2 and options_hash = $3
		order by data_no desc
		limit 1`, event, engine, optionsHash).Scan(&dataNo, &text)
	return dataNo, []byte(text), err
}

// SaveAnalysis keeps an analysis, JSON, under its key and drops older ones of
// the same options. One that is there already stays: a key has one value.
func (db *DB) SaveAnalysis(ctx context.Context, event uuid.UUID, dataNo int64, engine, optionsHash string, body json.RawMessage) (err error) {
	defer wrap(&err, "keep the analysis of event %s at %d", event, dataNo)
	return db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `
			insert into analysis (event_id, data_no, engine, options_hash, body, made_at)
			values ($1, $2, $3, $4, $5, $6)
			on conflict (event_id, data_no, engine, options_hash) do nothing`,
			event, dataNo, engine, optionsHash, string(body), db.clock())
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			delete from analysis
			where event_id = $1 and options_hash = $3 and data_no < $2`, event, dataNo, optionsHash)
		return err
	})
}

// Audit notes that somebody (zero: the server) did something that is no record:
// a code made, a member removed, an import. detail becomes JSON; it must hold no
// secret.
func (db *DB) Audit(ctx context.Context, event, member uuid.UUID, what string, detail map[string]any) (err error) {
	defer wrap(&err, "note %s", what)
	if detail == nil {
		detail = map[string]any{}
	}
	raw, err := encode(detail)
	if err != nil {
		return err
	}
	if raw, err = cleanBody(raw); err != nil {
		return err
	}
	_, err = db.pool.Exec(ctx, `
		insert into audit (event_id, audit_id, at, member_id, what, detail)
		values ($1, $2, $3, $4, $5, $6)`,
		event, newID(), db.clock(), orNull(member), what, raw)
	return err
}
