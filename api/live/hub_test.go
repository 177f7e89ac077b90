package live

import (
	"context"
	"errors"
	"log/slog"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
)

// feed is a source of change numbers.
type feed struct {
	no     atomic.Int64
	broken atomic.Bool
}

func (f *feed) last(context.Context, uuid.UUID) (int64, error) {
	if f.broken.Load() {
		return 0, errors.New("the database is away")
	}
	return f.no.Load(), nil
}

func setup(t *testing.T, poll time.Duration) (*Hub, *feed) {
	t.Helper()
	f := &feed{}
	h := New(Options{Last: f.last, Poll: poll, Logger: slog.New(slog.DiscardHandler)})
	done := make(chan struct{})
	go func() {
		defer close(done)
		h.Run(t.Context())
	}()
	t.Cleanup(func() { <-done })
	return h, f
}

func next(t *testing.T, s *Subscription) Message {
	t.Helper()
	select {
	case m, ok := <-s.C:
		if !ok {
			t.Fatal("the subscription ended")
		}
		return m
	case <-time.After(5 * time.Second):
		t.Fatal("no message within 5 s")
	}
	return Message{}
}

var event = uuid.MustParse("0195f000-0000-7000-8000-000000000001")

func TestHubHint(t *testing.T) {
	t.Parallel()
	h, f := setup(t, time.Hour)
	a, b := h.Subscribe(event), h.Subscribe(event)
	other := h.Subscribe(uuid.New())
	f.no.Store(7)
	h.Hint(event)
	for _, s := range []*Subscription{a, b} {
		if got, want := next(t, s), (Message{Change, 7}); got != want {
			t.Errorf("message %v, want %v", got, want)
		}
	}
	// The same number is told once: the next message is the next number.
	h.Hint(event)
	f.no.Store(9)
	h.Hint(event)
	if got, want := next(t, a), (Message{Change, 9}); got != want {
		t.Errorf("message %v, want %v", got, want)
	}
	if len(other.C) != 0 {
		t.Error("a listener of another event was told")
	}
}

func TestHubPoll(t *testing.T) {
	t.Parallel()
	h, f := setup(t, time.Millisecond)
	s := h.Subscribe(event)
	f.no.Store(3)
	if got, want := next(t, s), (Message{Change, 3}); got != want {
		t.Errorf("message %v, want %v: polling must work without a hint", got, want)
	}
}

func TestHubSurvivesABrokenSource(t *testing.T) {
	t.Parallel()
	h, f := setup(t, time.Millisecond)
	f.broken.Store(true)
	s := h.Subscribe(event)
	h.Hint(event)
	f.no.Store(3)
	f.broken.Store(false)
	if got := next(t, s); got.No != 3 {
		t.Errorf("message %v, want number 3", got)
	}
}

func TestHubCutsTheSlow(t *testing.T) {
	t.Parallel()
	h, _ := setup(t, time.Hour)
	slow, quick := h.Subscribe(event), h.Subscribe(event)
	for i := range queue + 1 {
		h.Publish(event, Message{Change, int64(i)})
		if got := next(t, quick); got.No != int64(i) {
			t.Fatalf("message %v, want number %d", got, i)
		}
	}
	for range queue {
		next(t, slow) // what was queued is not lost
	}
	if m, ok := <-slow.C; ok {
		t.Errorf("a listener that is %d behind still gets %v", queue+1, m)
	}
	if n := h.Subscribers(); n != 1 {
		t.Errorf("%d subscribers, want 1", n)
	}
	slow.Close() // again: no panic
}

func TestSubscriptionClose(t *testing.T) {
	t.Parallel()
	h, _ := setup(t, time.Hour)
	s := h.Subscribe(event)
	s.Close()
	if _, ok := <-s.C; ok {
		t.Error("a closed subscription gets messages")
	}
	h.Publish(event, Message{Change, 1})
	if n := h.Subscribers(); n != 0 {
		t.Errorf("%d subscribers after Close", n)
	}
}
