package live

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"github.com/google/uuid"
)

// Kind says what a message is about.
type Kind string

// The kinds of message.
const (
	Change   Kind = "change"   // No is a change number
	Analysis Kind = "analysis" // No is the data number of a new analysis
)

// Message says that something of an event is new.
type Message struct {
	Kind Kind
	No   int64
}

// Options configure a Hub.
type Options struct {
	// Last returns the number of an event's last change.
	Last func(ctx context.Context, event uuid.UUID) (int64, error)
	// Poll is how often Last is asked for each event that has a subscriber.
	Poll time.Duration
	// OnChange, if not nil, is called when an event with a subscriber has
	// changed. It must not block.
	OnChange func(event uuid.UUID)
	Logger   *slog.Logger
}

// queue is how many messages a subscriber may be behind before it is cut off.
// It holds numbers, so whoever was cut off has lost nothing: it connects again
// and says which number it saw last.
const queue = 32

// Hub hands change numbers to subscribers. Safe for concurrent use.
type Hub struct {
	opt    Options
	wake   chan struct{} // capacity 1
	mu     sync.Mutex
	topics map[uuid.UUID]*topic
	hinted map[uuid.UUID]bool
}

type topic struct {
	last int64 // the last number that was handed out
	subs map[*Subscription]bool
}

// Subscription is one listener's queue.
type Subscription struct {
	// C is closed when the listener was too slow, or by Close.
	C     <-chan Message
	c     chan Message
	hub   *Hub
	event uuid.UUID
}

// New returns a Hub; Run makes it work.
func New(opt Options) *Hub {
	return &Hub{
		opt:    opt,
		wake:   make(chan struct{}, 1),
		topics: map[uuid.UUID]*topic{},
		hinted: map[uuid.UUID]bool{},
	}
}

// Subscribe starts to listen to an event. Numbers that were handed out before
// do not come again: ask for the last one after Subscribe has returned.
func (h *Hub) Subscribe(event uuid.UUID) *Subscription {
	h.mu.Lock()
	defer h.mu.Unlock()
	t, ok := h.topics[event]
	if !ok {
		t = &topic{subs: map[*Subscription]bool{}}
		h.topics[event] = t
	}
	c := make(chan Message, queue)
	s := &Subscription{C: c, c: c, hub: h, event: event}
	t.subs[s] = true
	return s
}

// Close ends the subscription. It may be called twice.
func (s *Subscription) Close() {
	s.hub.mu.Lock()
	defer s.hub.mu.Unlock()
	s.hub.drop(s)
}

// drop is called with the lock held.
func (h *Hub) drop(s *Subscription) {
	t, ok := h.topics[s.event]
	if !ok || !t.subs[s] {
		return
	}
	delete(t.subs, s)
	close(s.c)
	if len(t.subs) == 0 {
		delete(h.topics, s.event)
	}
}

// Subscribers counts the listeners of all events.
func (h *Hub) Subscribers() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	n := 0
	for _, t := range h.topics {
		n += len(t.subs)
	}
	return n
}

// Hint says that an event has probably changed. It never blocks.
func (h *Hub) Hint(event uuid.UUID) {
	h.mu.Lock()
	h.hinted[event] = true
	h.mu.Unlock()
	select {
	case h.wake <- struct{}{}:
	default:
	}
}

// Publish hands a message to the listeners of an event. It never blocks: who
// has a full queue is cut off.
func (h *Hub) Publish(event uuid.UUID, m Message) {
	h.mu.Lock()
	defer h.mu.Unlock()
	t, ok := h.topics[event]
	if !ok {
		return
	}
	for s := range t.subs {
		select {
		case s.c <- m:
		default:
			h.drop(s)
			h.opt.Logger.Warn("a slow listener was cut off", "event", event)
		}
	}
}

// Run asks for new numbers, on a hint and on each tick, until ctx ends.
func (h *Hub) Run(ctx context.Context) {
	tick := time.NewTicker(h.opt.Poll)
	defer tick.Stop()
	for {
		all := false
		select {
		case <-ctx.Done():
			return
		case <-h.wake:
		case <-tick.C:
			all = true
		}
		for _, event := range h.due(all) {
			h.refresh(ctx, event)
		}
	}
}

// due takes the events to ask for: those that were hinted at, or all that
// have a subscriber.
func (h *Hub) due(all bool) []uuid.UUID {
	h.mu.Lock()
	defer h.mu.Unlock()
	var events []uuid.UUID
	for event := range h.topics {
		if all || h.hinted[event] {
			events = append(events, event)
		}
	}
	clear(h.hinted)
	return events
}

func (h *Hub) refresh(ctx context.Context, event uuid.UUID) {
	no, err := h.opt.Last(ctx, event)
	if err != nil {
		if ctx.Err() == nil {
			h.opt.Logger.Warn("the last change could not be read; it is tried again", "event", event, "error", err)
		}
		return
	}
	h.mu.Lock()
	t, ok := h.topics[event]
	news := ok && no > t.last
	if news {
		t.last = no
	}
	h.mu.Unlock()
	if !news {
		return
	}
	h.Publish(event, Message{Kind: Change, No: no})
	if h.opt.OnChange != nil {
		h.opt.OnChange(event)
	}
}
