package store

import (
	"context"
	"io"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Pool lets tests look behind the methods.
func (db *DB) Pool() *pgxpool.Pool { return db.pool }

// Rebuild derives all records of an event anew from their revisions.
func (db *DB) Rebuild(ctx context.Context, event uuid.UUID) error {
	return db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error { return rebuild(ctx, tx, event) })
}

// Tx runs fn as the methods run theirs.
func (db *DB) Tx(ctx context.Context, fn func(pgx.Tx) error) error {
	return db.tx(ctx, pgx.TxOptions{}, fn)
}

// The numbers that tests compare with.
const (
	RestoreGap = restoreGap
	Tries      = tries
)

// ConstraintNames are those that errors are told apart by.
func ConstraintNames() []string {
	return append(slices.Collect(maps.Keys(constraintMeaning)), "seat_team_fkey")
}

// ReadExport reads an export without a database.
func ReadExport(r io.Reader) (revisions int, err error) {
	f, err := readExport(r)
	if err != nil {
		return 0, err
	}
	return len(f.revisions), nil
}
