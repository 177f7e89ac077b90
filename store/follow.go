package store

import (
	"context"
	"log/slog"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Listen calls hint with the id of an event soon after something changed
// there, in this process or another, until ctx ends; then it returns ctx.Err().
// Hints are coalesced and may be lost (behind a transaction pooler all are), so
// also poll: Follow does both. A lost connection is made again. hint must not
// block.
func (db *DB) Listen(ctx context.Context, hint func(event uuid.UUID)) error { return errUnfinished }

// Follow calls moved whenever the change number of one of the wanted events
// has moved, at once where hints arrive and within every otherwise, until ctx
// ends; then it returns ctx.Err(). The first call for an event comes when it is
// first wanted. wanted is asked again each time; calls are never concurrent.
func (db *DB) Follow(ctx context.Context, every time.Duration, wanted func() []uuid.UUID, moved func(event uuid.UUID, changeNo int64)) error {
	return errUnfinished
}

// hinter sends NOTIFY after commits.
type hinter struct{}

func startHinter(*pgxpool.Pool, *slog.Logger) *hinter { return &hinter{} }

func (h *hinter) stop() {}
