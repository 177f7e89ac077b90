package transfer

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	"sextant/stats/game"
	"sextant/store"
)

// GameFile reads an event's game file, without the event's settings, and its
// hash. Errors: store.ErrNotFound.
func GameFile(ctx context.Context, db *store.DB, event uuid.UUID) (*game.Game, string, error) {
	body, hash, err := db.Game(ctx, event)
	if err != nil {
		return nil, "", err
	}
	g, err := game.Load("game.json", body)
	if err != nil {
		// It was checked when it was stored: not the caller's fault.
		return nil, "", fmt.Errorf("the stored game file %s: %s", hash, err.Error())
	}
	return g, hash, nil
}

// Game is the game as it is played at an event. Errors: store.ErrNotFound.
func Game(ctx context.Context, db *store.DB, event uuid.UUID) (*game.Game, store.Event, error) {
	ev, err := db.Event(ctx, event)
	if err != nil {
		return nil, ev, err
	}
	g, _, err := GameFile(ctx, db, event)
	if err != nil {
		return nil, ev, err
	}
	played, _, err := g.Override("event.json", ev.Overrides)
	if err != nil {
		return nil, ev, fmt.Errorf("the stored settings: %s", err.Error())
	}
	return played, ev, nil
}
