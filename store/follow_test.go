package store_test

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/store"
	"sextant/store/storetest"
)

// patience is how long a test waits for what should come at once.
const patience = time.Minute

func receive[T any](t *testing.T, from <-chan T, what string) T {
	t.Helper()
	select {
	case v := <-from:
		return v
	case <-time.After(patience):
		t.Fatalf("%s did not come", what)
		panic("not reached")
	}
}

// background runs fn until the test ends and checks that it then returns the
// end of its context.
func background(t *testing.T, fn func(ctx context.Context) error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- fn(ctx) }()
	t.Cleanup(func() {
		cancel()
		select {
		case err := <-done:
			if !errors.Is(err, context.Canceled) {
				t.Errorf("ended with %v", err)
			}
		case <-time.After(patience):
			t.Error("does not end with its context")
		}
	})
}

type move struct {
	event    uuid.UUID
	changeNo int64
}

// TestFollowHearsAtOnce: with polling that would never come in time, a change
// made through another DB (another server process) is heard.
func TestFollowHearsAtOnce(t *testing.T) {
	t.Parallel()
	at := storetest.URL(t)
	here, there := storetest.Open(t, at, store.Options{}), storetest.Open(t, at, store.Options{})
	ev, _ := storetest.Event(t, there, nil)
	other, _ := storetest.Event(t, there, nil)
	moves := make(chan move, 100)
	background(t, func(ctx context.Context) error {
		return here.Follow(ctx, time.Hour, func() []uuid.UUID { return []uuid.UUID{ev.ID} }, func(id uuid.UUID, n int64) { moves <- move{id, n} })
	})
	if first := receive(t, moves, "the first number"); first != (move{ev.ID, ev.ChangeNo}) {
		t.Errorf("began with %v, want %d", first, ev.ChangeNo)
	}
	awaitListener(t, storetest.Conn(t, at), 0)
	storetest.Scout(t, there, other.ID, "not wanted")
	for i := range 3 {
		m := storetest.Scout(t, there, ev.ID, string(rune('a'+i)))
		want, err := there.ChangeNo(t.Context(), ev.ID)
		if err != nil {
			t.Fatal(err)
		}
		if got := receive(t, moves, "the change for "+m.Nickname); got != (move{ev.ID, want}) {
			t.Errorf("got %v, want %d", got, want)
		}
	}
}

// awaitListener waits until somebody listens, other than the process before,
// and returns its process.
func awaitListener(t *testing.T, conn *pgx.Conn, before int) int {
	t.Helper()
	limit, tick := time.After(patience), time.NewTicker(5*time.Millisecond)
	defer tick.Stop()
	for {
		var pid int
		err := conn.QueryRow(t.Context(), `
			select coalesce(max(pid), 0)
			from pg_stat_activity
			where datname = current_database() and query = 'listen sextant_change' and state = 'idle' and pid <> $1`, before).Scan(&pid)
		if err != nil {
			t.Fatal(err)
		}
		if pid != 0 {
			return pid
		}
		select {
		case <-limit:
			t.Fatal("nobody listens")
		case <-tick.C:
		}
	}
}

// TestFollowPolls: a change that gives no hint, as behind a transaction pooler,
// is seen by polling; an event that is wanted later begins with its number.
func TestFollowPolls(t *testing.T) {
	t.Parallel()
	at := storetest.URL(t)
	db := storetest.Open(t, at, store.Options{})
	ev, _ := storetest.Event(t, db, nil)
	later, _ := storetest.Event(t, db, nil)
	var mu sync.Mutex
	wanted := []uuid.UUID{}
	moves := make(chan move, 100)
	background(t, func(ctx context.Context) error {
		return db.Follow(ctx, 10*time.Millisecond, func() []uuid.UUID {
			mu.Lock()
			defer mu.Unlock()
			return wanted
		}, func(id uuid.UUID, n int64) { moves <- move{id, n} })
	})
	want := func(ids ...uuid.UUID) {
		mu.Lock()
		defer mu.Unlock()
		wanted = ids
	}
	want(ev.ID)
	if got := receive(t, moves, "the first number"); got != (move{ev.ID, ev.ChangeNo}) {
		t.Errorf("got %v", got)
	}
	conn := storetest.Conn(t, at)
	for i := range int64(5) { // a hint that is still on its way may help with the first
		if _, err := conn.Exec(t.Context(), `update event set change_no = change_no + 1 where event_id = $1`, ev.ID); err != nil {
			t.Fatal(err)
		}
		if got := receive(t, moves, "a silent change"); got != (move{ev.ID, ev.ChangeNo + 1 + i}) {
			t.Errorf("got %v", got)
		}
	}
	want(ev.ID, later.ID, uuid.New())
	if got := receive(t, moves, "the event that is wanted later"); got != (move{later.ID, later.ChangeNo}) {
		t.Errorf("got %v", got)
	}
}

// TestListenComesBack: the server drops the connection; hints come again.
func TestListenComesBack(t *testing.T) {
	t.Parallel()
	at := storetest.URL(t)
	db := storetest.Open(t, at, store.Options{})
	conn := storetest.Conn(t, at)
	ev, _ := storetest.Event(t, db, nil)
	hints := make(chan uuid.UUID, 1000)
	background(t, func(ctx context.Context) error {
		return db.Listen(ctx, func(id uuid.UUID) { hints <- id })
	})
	pid := 0
	for range 2 {
		pid = awaitListener(t, conn, pid)
		storetest.Scout(t, db, ev.ID, uuid.NewString())
		if got := receive(t, hints, "the hint"); got != ev.ID {
			t.Errorf("got %s", got)
		}
		_, err := conn.Exec(t.Context(), `select pg_terminate_backend($1)`, pid)
		if err != nil {
			t.Fatal(err)
		}
	}
}

// TestHintsAreCoalesced: many changes give at most as many hints, the last
// change gives one, and Close sends what is due.
func TestHintsAreCoalesced(t *testing.T) {
	t.Parallel()
	at := storetest.URL(t)
	listener := storetest.Conn(t, at)
	if _, err := listener.Exec(t.Context(), `listen sextant_change`); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(t.Context(), at, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	ev, _ := storetest.Event(t, db, nil)
	const changes = 50
	for i := range changes {
		zone := []string{"Europe/Oslo", "Europe/Rome"}[i%2]
		if _, err := db.UpdateEvent(t.Context(), ev.ID, store.EventPatch{Zone: &zone}, nil); err != nil {
			t.Fatal(err)
		}
	}
	db.Close()
	if _, err := listener.Exec(t.Context(), `select pg_notify('sextant_change', 'end')`); err != nil {
		t.Fatal(err)
	}
	var hints int
	for {
		ctx, cancel := context.WithTimeout(t.Context(), patience)
		n, err := listener.WaitForNotification(ctx)
		cancel()
		if err != nil {
			t.Fatal(err)
		}
		if n.Payload == "end" {
			break
		}
		if n.Payload != ev.ID.String() {
			t.Errorf("a hint says %q: it must carry the event alone", n.Payload)
		}
		hints++
	}
	if hints == 0 || hints > changes+1 {
		t.Errorf("%d hints of %d changes", hints, changes+1)
	}
}
