package live

import (
	"log/slog"
	"sync"

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
	What string // of an analysis: what it is of
	No   int64
}

// queue is how many messages a subscriber may be behind before it is cut off.
// It holds numbers, so whoever was cut off has lost nothing: it connects again
// and says which number it saw last.
const queue = 32

// Hub hands numbers to subscribers. Safe for concurrent use.
type Hub struct {
	logger *slog.Logger
	mu     sync.Mutex
	topics map[uuid.UUID]map[*Subscription]bool
}

// Subscription is one listener's queue.
type Subscription struct {
	// C is closed when the listener was too slow, or by Close.
	C     <-chan Message
	c     chan Message
	hub   *Hub
	event uuid.UUID
}

// New returns a Hub without subscribers.
func New(logger *slog.Logger) *Hub {
	return &Hub{logger: logger, topics: map[uuid.UUID]map[*Subscription]bool{}}
}

// Subscribe starts to listen to an event. Numbers that were handed out before
// do not come again: ask for the last one after Subscribe has returned.
func (h *Hub) Subscribe(event uuid.UUID) *Subscription {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.topics[event] == nil {
		h.topics[event] = map[*Subscription]bool{}
	}
	c := make(chan Message, queue)
	s := &Subscription{C: c, c: c, hub: h, event: event}
	h.topics[event][s] = true
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
	subs := h.topics[s.event]
	if !subs[s] {
		return
	}
	delete(subs, s)
	close(s.c)
	if len(subs) == 0 {
		delete(h.topics, s.event)
	}
}

// Subscribers counts the listeners of all events.
func (h *Hub) Subscribers() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	n := 0
	for _, subs := range h.topics {
		n += len(subs)
	}
	return n
}

// Wanted lists the events that somebody listens to, in no order.
func (h *Hub) Wanted() []uuid.UUID {
	h.mu.Lock()
	defer h.mu.Unlock()
	events := make([]uuid.UUID, 0, len(h.topics))
	for event := range h.topics {
		events = append(events, event)
	}
	return events
}

// Publish hands a message to the listeners of an event. It never blocks: who
// has a full queue is cut off.
func (h *Hub) Publish(event uuid.UUID, m Message) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for s := range h.topics[event] {
		select {
		case s.c <- m:
		default:
			h.drop(s)
			h.logger.Warn("a slow listener was cut off", "event", event)
		}
	}
}
