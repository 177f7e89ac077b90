package live

import (
	"log/slog"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

var (
	event = uuid.MustParse("0195f000-0000-7000-8000-000000000001")
	other = uuid.MustParse("0195f000-0000-7000-8000-000000000002")
)

func newHub() *Hub { return New(slog.New(slog.DiscardHandler)) }

// drain takes what is queued, and reports whether the subscription goes on.
func drain(s *Subscription) (got []Message, open bool) {
	for {
		select {
		case m, ok := <-s.C:
			if !ok {
				return got, false
			}
			got = append(got, m)
		default:
			return got, true
		}
	}
}

func TestHubPublish(t *testing.T) {
	t.Parallel()
	h := newHub()
	a, b, c := h.Subscribe(event), h.Subscribe(event), h.Subscribe(other)
	want := []Message{{Kind: Change, No: 7}, {Kind: Analysis, What: "standings", No: 5}}
	for _, m := range want {
		h.Publish(event, m)
	}
	for name, s := range map[string]*Subscription{"first": a, "second": b} {
		if got, open := drain(s); !open || !cmp.Equal(got, want) {
			t.Errorf("%s listener: %v, open %v; want %v", name, got, open, want)
		}
	}
	if got, open := drain(c); !open || len(got) > 0 {
		t.Errorf("a listener of another event got %v, open %v", got, open)
	}
}

func TestHubCutsTheSlow(t *testing.T) {
	t.Parallel()
	h := newHub()
	slow, quick := h.Subscribe(event), h.Subscribe(event)
	for i := range queue + 1 {
		h.Publish(event, Message{Kind: Change, No: int64(i)})
		if got, open := drain(quick); !open || len(got) != 1 {
			t.Fatalf("the quick listener got %v, open %v", got, open)
		}
	}
	if got, open := drain(slow); open || len(got) != queue {
		t.Errorf("the slow listener got %d messages, open %v; want the %d that were queued and the end", len(got), open, queue)
	}
	if n := h.Subscribers(); n != 1 {
		t.Errorf("%d subscribers, want 1", n)
	}
	slow.Close() // again: no panic
}

func TestSubscriptionClose(t *testing.T) {
	t.Parallel()
	h := newHub()
	s, rest := h.Subscribe(event), h.Subscribe(other)
	s.Close()
	h.Publish(event, Message{Kind: Change, No: 1})
	if got, open := drain(s); open || len(got) > 0 {
		t.Errorf("a closed subscription got %v, open %v", got, open)
	}
	if got := h.Wanted(); !slices.Equal(got, []uuid.UUID{other}) {
		t.Errorf("wanted %v, want only %v", got, other)
	}
	rest.Close()
	if got := h.Wanted(); len(got) != 0 {
		t.Errorf("wanted %v without listeners", got)
	}
}

// Run with -race.
func TestHubConcurrently(t *testing.T) {
	t.Parallel()
	h := newHub()
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for i := range 200 {
				s := h.Subscribe(event)
				h.Publish(event, Message{Kind: Change, No: int64(i)})
				s.Close()
			}
		})
	}
	wg.Wait()
	if n := h.Subscribers(); n != 0 {
		t.Errorf("%d subscribers are left", n)
	}
}
