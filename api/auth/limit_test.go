package auth

import (
	"fmt"
	"testing"
	"time"
)

func TestLimiter(t *testing.T) {
	t.Parallel()
	setup := func() (*Limiter, *time.Time) {
		now := time.Date(2031, 3, 6, 9, 0, 0, 0, time.UTC)
		return NewLimiter(func() time.Time { return now }), &now
	}

	t.Run("PerAddress", func(t *testing.T) {
		t.Parallel()
		l, now := setup()
		for i := range int(originBurst) {
			if _, wait := l.Take("192.0.2.1"); wait != 0 {
				t.Fatalf("try %d has to wait %v", i+1, wait)
			}
		}
		_, wait := l.Take("192.0.2.1")
		if wait < 5*time.Second || wait > 7*time.Second {
			t.Fatalf("after %v wrong tries wait = %v, want 6 s", originBurst, wait)
		}
		if _, other := l.Take("192.0.2.2"); other != 0 {
			t.Errorf("another address has to wait %v", other)
		}
		*now = now.Add(wait)
		if _, again := l.Take("192.0.2.1"); again != 0 {
			t.Errorf("after the wait it has to wait another %v", again)
		}
	})

	t.Run("RightTriesAreFree", func(t *testing.T) {
		t.Parallel()
		l, _ := setup()
		for i := range 500 {
			right, wait := l.Take("192.0.2.1")
			if wait != 0 {
				t.Fatalf("right try %d has to wait %v", i+1, wait)
			}
			right()
		}
	})

	t.Run("InAll", func(t *testing.T) {
		t.Parallel()
		l, _ := setup()
		for i := range int(allBurst) {
			if _, wait := l.Take(fmt.Sprintf("198.51.100.%d", i)); wait != 0 {
				t.Fatalf("address %d has to wait %v", i, wait)
			}
		}
		if _, wait := l.Take("203.0.113.9"); wait == 0 {
			t.Error("many addresses together are not limited")
		}
	})

	t.Run("OneAddressDoesNotLockOutTheOthers", func(t *testing.T) {
		t.Parallel()
		l, _ := setup()
		for range 1000 {
			l.Take("192.0.2.1")
		}
		if _, wait := l.Take("203.0.113.9"); wait != 0 {
			t.Errorf("another address has to wait %v", wait)
		}
	})

	t.Run("NeighboursInIPv6CountTogether", func(t *testing.T) {
		t.Parallel()
		l, _ := setup()
		for i := range int(originBurst) {
			l.Take(fmt.Sprintf("2001:db8::%x", i+1))
		}
		if _, wait := l.Take("2001:db8::ffff"); wait == 0 {
			t.Error("a /64 has more tries than one address")
		}
		if _, wait := l.Take("2001:db8:0:1::1"); wait != 0 {
			t.Error("another /64 has to wait")
		}
	})

	t.Run("Forgets", func(t *testing.T) {
		t.Parallel()
		l, now := setup()
		for i := range maxOrigins {
			l.Take(fmt.Sprintf("10.%d.%d.%d", i>>16, i>>8&255, i&255))
			*now = now.Add(time.Second)
		}
		*now = now.Add(time.Hour)
		l.Take("192.0.2.1")
		if len(l.byOrigin) > 10 {
			t.Errorf("%d addresses are remembered", len(l.byOrigin))
		}
	})
}
