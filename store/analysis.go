package store

import (
	"context"
	"encoding/json"

	"github.com/google/uuid"
)

// Analysis reads a kept analysis, byte for byte as it was saved. ErrNotFound.
func (db *DB) Analysis(ctx context.Context, event uuid.UUID, dataNo int64, engine, optionsHash string) (_ []byte, err error) {
	return nil, errUnfinished
}

// LatestAnalysis reads the newest kept analysis of an engine and options, which
// may be older than the event's DataNo. ErrNotFound.
func (db *DB) LatestAnalysis(ctx context.Context, event uuid.UUID, engine, optionsHash string) (dataNo int64, body []byte, err error) {
	return 0, nil, errUnfinished
}

// SaveAnalysis keeps an analysis, JSON, under its key and drops older ones of
// the same options. One that is there already stays: a key has one value.
func (db *DB) SaveAnalysis(ctx context.Context, event uuid.UUID, dataNo int64, engine, optionsHash string, body json.RawMessage) (err error) {
	return errUnfinished
}

// Audit notes that somebody (zero: the server) did something that is no record:
// a code made, a member removed, an import. detail becomes JSON; it must hold no
// secret.
func (db *DB) Audit(ctx context.Context, event, member uuid.UUID, what string, detail map[string]any) (err error) {
	return errUnfinished
}
