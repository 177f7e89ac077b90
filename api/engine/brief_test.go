package engine

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"sextant/stats/brief"
)

func TestBriefsAreKept(t *testing.T) {
	t.Parallel()
	b, made := newMemo[brief.Brief](), 0
	ask := func(key string) *brief.Brief {
		t.Helper()
		got, err := b.of(t.Context(), key, func() (*brief.Brief, error) { made++; return &brief.Brief{}, nil })
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if first := ask("a"); first != ask("a") || made != 1 {
		t.Errorf("made %d times", made)
	}
	for k := range maxKept {
		ask(fmt.Sprint(k))
	}
	if len(b.kept) != maxKept || len(b.order) != maxKept {
		t.Errorf("%d kept, %d in order", len(b.kept), len(b.order))
	}
	if ask("a"); made != maxKept+2 {
		t.Errorf("the oldest is still kept: made %d times", made)
	}

	// A failure is not kept, and who does not want to wait does not.
	failed := errors.New("no")
	if _, err := b.of(t.Context(), "bad", func() (*brief.Brief, error) { return nil, failed }); !errors.Is(err, failed) || b.get("bad") != nil {
		t.Errorf("%v", err)
	}
	b.turn <- struct{}{}
	ended, end := context.WithCancel(t.Context())
	end()
	if _, err := b.of(ended, "late", nil); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}
