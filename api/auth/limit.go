package auth

import (
	"net/netip"
	"sync"
	"time"
)

// Limiter bounds how often a secret can be guessed, per address and in all. A
// try takes a token before it starts, so that many at once gain nothing, and
// gives it back when it was right, so that a hall full of tablets behind one
// address can join. Safe for concurrent use.
type Limiter struct {
	now      func() time.Time
	mu       sync.Mutex
	all      bucket
	byOrigin map[string]*bucket
}

// The limits of a Limiter: wrong tries at once, and tokens that come back a
// second.
const (
	originBurst, originRate = 10.0, 1.0 / 6
	allBurst, allRate       = 120.0, 2.0
	maxOrigins              = 10_000 // then full buckets are swept
)

type bucket struct {
	tokens float64
	at     time.Time
}

func (b *bucket) refill(now time.Time, rate, burst float64) {
	b.tokens = min(burst, b.tokens+rate*max(0, now.Sub(b.at).Seconds()))
	b.at = now
}

// NewLimiter returns a Limiter with full buckets.
func NewLimiter(now func() time.Time) *Limiter {
	return &Limiter{now: now, all: bucket{allBurst, now()}, byOrigin: map[string]*bucket{}}
}

// Take asks for a try from an address. If there is none left, wait says when
// there is; otherwise right must be called if the try turned out to be right.
// An address that has used up its own tries takes none of the others'.
func (l *Limiter) Take(address string) (right func(), wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if len(l.byOrigin) >= maxOrigins {
		l.sweep(now)
	}
	key := origin(address)
	own, ok := l.byOrigin[key]
	if !ok {
		own = &bucket{originBurst, now}
		l.byOrigin[key] = own
	}
	own.refill(now, originRate, originBurst)
	l.all.refill(now, allRate, allBurst)
	if own.tokens < 1 {
		return nil, seconds((1 - own.tokens) / originRate)
	}
	if l.all.tokens < 1 {
		return nil, seconds((1 - l.all.tokens) / allRate)
	}
	own.tokens--
	l.all.tokens--
	return func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		own.tokens = min(originBurst, own.tokens+1)
		l.all.tokens = min(allBurst, l.all.tokens+1)
	}, 0
}

// sweep forgets addresses whose buckets are full again.
func (l *Limiter) sweep(now time.Time) {
	for key, b := range l.byOrigin {
		if b.refill(now, originRate, originBurst); b.tokens >= originBurst {
			delete(l.byOrigin, key)
		}
	}
}

func seconds(s float64) time.Duration {
	return time.Duration(s*float64(time.Second)) + time.Millisecond
}

// origin is what is counted together: an IPv4 address, or the /64 of an IPv6
// address, which one household or phone usually has to itself.
func origin(address string) string {
	ip, err := netip.ParseAddr(address)
	if err != nil {
		return address
	}
	ip = ip.Unmap().WithZone("")
	if ip.Is6() {
		if p, err := ip.Prefix(64); err == nil {
			return p.String()
		}
	}
	return ip.String()
}
