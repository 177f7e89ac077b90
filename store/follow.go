package store

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Listen calls hint with the id of an event soon after something changed
// there, in this process or another, until ctx ends; then it returns ctx.Err().
// Hints are coalesced and may be lost (behind a transaction pooler all are), so
// also poll: Follow does both. A lost connection is made again. hint must not
// block.
func (db *DB) Listen(ctx context.Context, hint func(event uuid.UUID)) error {
	return db.listen(ctx, func() {}, hint)
}

// listen calls ready each time that it begins to hear.
func (db *DB) listen(ctx context.Context, ready func(), hint func(uuid.UUID)) error {
	const shortest, longest = 100 * time.Millisecond, 10 * time.Second
	pause := shortest
	for {
		err := db.hear(ctx, func() {
			pause = shortest
			ready()
		}, hint)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		db.logger.WarnContext(ctx, "hints of changes are not heard; polling goes on", "error", err, "again_in", pause)
		timer := time.NewTimer(pause)
		select {
		case <-ctx.Done():
			timer.Stop()
			return ctx.Err()
		case <-timer.C:
		}
		pause = min(2*pause, longest)
	}
}

// hear listens on a connection of its own until that fails.
func (db *DB) hear(ctx context.Context, ready func(), hint func(uuid.UUID)) error {
	conn, err := pgx.ConnectConfig(ctx, db.pool.Config().ConnConfig)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	if _, err := conn.Exec(ctx, `listen sextant_change`); err != nil {
		return err
	}
	ready()
	for {
		n, err := conn.WaitForNotification(ctx)
		if err != nil {
			return err
		}
		if id, err := uuid.Parse(n.Payload); err == nil {
			hint(id)
		}
	}
}

// Follow calls moved whenever the change number of one of the wanted events
// has moved, at once where hints arrive and within every otherwise, until ctx
// ends; then it returns ctx.Err(). The first call for an event comes when it is
// first wanted. wanted is asked again each time; calls are never concurrent.
func (db *DB) Follow(ctx context.Context, every time.Duration, wanted func() []uuid.UUID, moved func(event uuid.UUID, changeNo int64)) error {
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	wake := make(chan struct{}, 1)
	look := func() {
		select {
		case wake <- struct{}{}:
		default: // it will look anyway
		}
	}
	look()
	// What came while nobody listened gave no hint, so look when that begins.
	wg.Go(func() { _ = db.listen(ctx, look, func(uuid.UUID) { look() }) })

	tick := time.NewTicker(every)
	defer tick.Stop()
	last := map[uuid.UUID]int64{}
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-wake:
		case <-tick.C:
		}
		events := wanted()
		if len(events) == 0 {
			clear(last)
			continue
		}
		now, err := db.ChangeNos(ctx, events)
		if err != nil {
			if ctx.Err() == nil {
				db.logger.WarnContext(ctx, "changes are not seen", "error", err)
			}
			continue
		}
		for id, n := range now {
			if before, seen := last[id]; !seen || before != n {
				moved(id, n)
			}
		}
		last = now
	}
}

// hinter sends NOTIFY after commits. What comes while one is being sent goes
// together with the next.
type hinter struct {
	pool   *pgxpool.Pool
	logger *slog.Logger
	wake   chan struct{}
	done   chan struct{}

	mu      sync.Mutex
	due     map[uuid.UUID]bool
	stopped bool
}

func startHinter(pool *pgxpool.Pool, logger *slog.Logger) *hinter {
	h := &hinter{pool: pool, logger: logger, wake: make(chan struct{}, 1), done: make(chan struct{}), due: map[uuid.UUID]bool{}}
	go h.run()
	return h
}

// add asks for a hint about an event. It never blocks.
func (h *hinter) add(event uuid.UUID) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.stopped {
		return
	}
	h.due[event] = true
	select {
	case h.wake <- struct{}{}:
	default: // it is awake
	}
}

// stop sends what is due and ends.
func (h *hinter) stop() {
	h.mu.Lock()
	if !h.stopped {
		h.stopped = true
		close(h.wake)
	}
	h.mu.Unlock()
	<-h.done
}

func (h *hinter) run() {
	defer close(h.done)
	for range h.wake {
		h.mu.Lock()
		events := make([]uuid.UUID, 0, len(h.due))
		for id := range h.due {
			events = append(events, id)
		}
		clear(h.due)
		h.mu.Unlock()
		h.send(events)
	}
}

func (h *hinter) send(events []uuid.UUID) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	_, err := h.pool.Exec(ctx, `
		select pg_notify('sextant_change', t.event_id::text)
		from unnest($1::uuid[]) as t (event_id)`, events)
	if err != nil {
		h.logger.Warn("a hint of a change was not sent; others will poll", "error", err)
	}
}
